//! The cases that a moment is a mixture of.

use super::rule::{Phase, Rule};
use super::{Candidate, Moment, Window};
use crate::domain::AbundanceClass;

/// How much fish have of none, sparse, moderate and heavy numbers, relative (common practice, no source).
pub(super) const PLENTY: [f64; 4] = [0.0, 1.0, 3.0, 9.0];
/// Chance and numbers of nymphs that stir before the first winged insects, of those at the middle.
const BEFORE: f64 = 0.15;
/// Hours before the first winged insects in which nymphs stir.
const BEFORE_H: f64 = 3.0;
/// Spreads before and after the middle between which winged insects come, and between which most do.
const FIRST: f64 = 2.0;
const MOST: f64 = 1.0;
/// Chance that some are about between the two, of the chance that the day has any.
const SHOULDER: f64 = 0.8;
/// Least chance and numbers of a flight at any hour: stragglers, and the spent on the water.
const STRAGGLERS: f64 = 0.03;
/// Narrowest spread believed, hours.
const LEAST_SPREAD_H: f64 = 0.25;
/// Phases of an insect whose hours nobody knows, with their share.
const UNKNOWN_HOURS: [(Phase, f64); 3] = [(Phase::Early, 0.15), (Phase::Peak, 0.3), (Phase::Tail, 0.15)];
/// Weight of nymphs on an empty day that no number supports.
const NYMPHS: f64 = 0.05;

const CLASSES: [AbundanceClass; 4] =
    [AbundanceClass::None, AbundanceClass::Sparse, AbundanceClass::Moderate, AbundanceClass::Heavy];

/// One way the moment may be.
#[derive(Debug, Clone, Copy)]
pub(super) struct Case<'a> {
    /// The taxon, and its place among the candidates.
    pub(super) candidate: Option<&'a Candidate<'a>>,
    pub(super) index: usize,
    pub(super) phase: Phase,
    pub(super) class: AbundanceClass,
    /// Its share before the rules speak.
    pub(super) weight: f64,
}

/// An event of the day at one hour.
#[derive(Debug, Clone, Copy)]
pub(super) struct AtHour {
    phase: Phase,
    /// Chance that some are about, of the chance that the day has any.
    present: f64,
    /// Numbers, of those at the middle.
    pub(super) numbers: f64,
}

pub(super) fn at_hour(window: Window) -> AtHour {
    let spread = window.spread_h.max(LEAST_SPREAD_H);
    let z = window.since_middle_h / spread;
    let numbers = (-0.5 * z * z).exp();
    let stirs = window.since_middle_h >= -FIRST * spread - BEFORE_H;
    match z {
        z if (-MOST..=MOST).contains(&z) => AtHour { phase: Phase::Peak, present: 1.0, numbers },
        z if (-FIRST..-MOST).contains(&z) => AtHour { phase: Phase::Early, present: SHOULDER, numbers },
        z if z > MOST && z <= FIRST => AtHour { phase: Phase::Tail, present: SHOULDER, numbers },
        z if z < 0.0 && stirs => AtHour { phase: Phase::Before, present: BEFORE, numbers: BEFORE },
        _ => AtHour { phase: Phase::Quiet, present: 0.0, numbers: 0.0 },
    }
}

/// The candidate with the odds of any multiplied as `rules` say.
pub(super) fn raised<'a>(candidate: &Candidate<'a>, rules: &[&Rule], moment: &Moment) -> Candidate<'a> {
    let case =
        Case { candidate: Some(candidate), index: 0, phase: Phase::Quiet, class: AbundanceClass::None, weight: 1.0 };
    let factor: f64 =
        rules.iter().filter(|rule| rule.odds != 1.0 && rule.fires(&case, moment)).map(|r| r.odds).product();
    let [none, some @ ..] = candidate.classes;
    let any: f64 = some.iter().sum();
    if any <= 0.0 {
        return *candidate;
    }
    let raised = factor * any / (factor * any + none);
    let [sparse, moderate, heavy] = some.map(|chance| chance * raised / any);
    Candidate { classes: [1.0 - raised, sparse, moderate, heavy], ..*candidate }
}

/// All cases of `candidates`; weights sum to 1. That nothing comes has the product of the chances that no
/// taxon does; the rest is shared by the numbers expected at this hour.
pub(super) fn cases<'a>(candidates: &'a [Candidate<'a>]) -> Vec<Case<'a>> {
    if candidates.is_empty() {
        let class = AbundanceClass::None;
        return vec![Case { candidate: None, index: 0, phase: Phase::Quiet, class, weight: 1.0 }];
    }
    let (mut active, mut quiet) = (Vec::new(), Vec::new());
    let mut nothing = 1.0;
    for (index, candidate) in candidates.iter().enumerate() {
        let any = 1.0 - candidate.classes[0];
        let mut add = |at: AtHour, chance: f64| {
            nothing *= 1.0 - (chance * at.present).clamp(0.0, 1.0);
            for class in [1, 2, 3] {
                let share = if any > 0.0 { candidate.classes[class] / any } else { f64::from(u8::from(class == 1)) };
                let weight = chance * at.numbers * share * PLENTY[class];
                if weight > 0.0 {
                    let (phase, class) = (at.phase, CLASSES[class]);
                    active.push(Case { candidate: Some(candidate), index, phase, class, weight });
                }
            }
        };
        match candidate.emergence.map(at_hour) {
            Some(at) => add(at, any),
            None => UNKNOWN_HOURS
                .iter()
                .for_each(|(phase, share)| add(AtHour { phase: *phase, present: *share, numbers: *share }, any)),
        }
        if let Some(flight) = candidate.flight {
            let at = at_hour(flight.window);
            // Nothing of a flight is about before it.
            let under_way = !matches!(at.phase, Phase::Before | Phase::Quiet);
            let (present, numbers) = if under_way { (at.present, at.numbers) } else { (STRAGGLERS, STRAGGLERS) };
            add(AtHour { phase: Phase::Flight, present, numbers }, flight.chance);
        }
        let expected: f64 = candidate.classes.iter().zip(PLENTY).map(|(chance, plenty)| chance * plenty).sum();
        let weight = (expected + NYMPHS) * (1.0 + NYMPHS - candidate.completed.clamp(0.0, 1.0));
        let class = AbundanceClass::None;
        quiet.push(Case { candidate: Some(candidate), index, phase: Phase::Quiet, class, weight });
    }
    if active.is_empty() {
        nothing = 1.0;
    }
    scale(&mut active, 1.0 - nothing);
    scale(&mut quiet, nothing);
    active.extend(quiet);
    active
}

fn scale(cases: &mut [Case<'_>], to: f64) {
    let sum: f64 = cases.iter().map(|case| case.weight).sum();
    for case in cases {
        case.weight *= to / sum;
    }
}
