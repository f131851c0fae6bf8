//! Ways to combine clocks, compared by the log scores of years left out: weights from the other
//! years, scored on the year left out. The water of the scored year is known here, which flatters
//! the clocks on heat; all ways share it.

use rayon::prelude::*;
use subimago::domain::fit::ClockKind;
use subimago::model::emergence::Candidates;
use subimago::model::emergence::select::{Gain, HEAT_WEIGHT, LeftOut, choose, gain, lead};

use crate::club::{Club, Kind};
use crate::lab::seeds;
use crate::stats::Mean;

type Weights = [f64; 4];

const RULES: [(&str, fn(&View<'_>) -> Weights); 11] = [
    ("calendar alone", |_| pair(ClockKind::Thermal, 0.0)),
    ("heat alone", |v| pair(v.heat, 1.0)),
    ("0.75 heat always", |v| pair(v.heat, HEAT_WEIGHT)),
    ("best single clock", best_single),
    ("present rule", |v| v.present),
    ("full stacking", stacked),
    ("shrunk, normal", shrunk_normal),
    ("shrunk, t", shrunk),
    ("calendar if behind", |v| unless(v, |lead| lead.sum <= 0.0)),
    ("calendar 1 se", |v| unless(v, |lead| lead.sum < -lead.se)),
    ("calendar unless 1 se", |v| unless(v, |lead| lead.sum <= lead.se)),
];
const CALENDAR: usize = 0;
const PRESENT: usize = 4;

/// The scores of all years but one, and what the service makes of them.
struct View<'a> {
    scores: &'a [LeftOut],
    present: Weights,
    heat: ClockKind,
}

impl View<'_> {
    fn of(&self, clock: ClockKind) -> &LeftOut {
        self.scores.iter().find(|s| s.clock == clock).expect("every clock was scored")
    }
}

fn pair(heat: ClockKind, weight: f64) -> Weights {
    let mut weights = [0.0; 4];
    weights[ClockKind::Calendar.index()] = 1.0 - weight;
    weights[heat.index()] += weight;
    weights
}

fn best_single(view: &View<'_>) -> Weights {
    let total = |s: &LeftOut| s.fold_sums().iter().sum::<f64>();
    let best = view.scores.iter().max_by(|a, b| total(a).total_cmp(&total(b))).expect("a clock");
    let mut weights = [0.0; 4];
    weights[best.clock.index()] = 1.0;
    weights
}

/// The weight on a grid that maximises the summed log score of the mixture.
fn stacked(view: &View<'_>) -> Weights {
    let (heat, calendar) = (view.of(view.heat), view.of(ClockKind::Calendar));
    let score = |weight: f64| mixed(heat, calendar, weight).iter().flatten().sum::<f64>();
    let best = (0..=100).map(|k| f64::from(k) / 100.0).max_by(|a, b| score(*a).total_cmp(&score(*b)));
    pair(view.heat, best.expect("a grid"))
}

/// What is shipped below ten years, at any number of years.
fn shrunk(view: &View<'_>) -> Weights {
    let lead = gain(&view.of(view.heat).fold_sums(), &view.of(ClockKind::Calendar).fold_sums());
    pair(view.heat, subimago::model::emergence::select::shrunk(lead))
}

/// The same with a normal D, as if the standard error were known.
fn shrunk_normal(view: &View<'_>) -> Weights {
    let lead = gain(&view.of(view.heat).fold_sums(), &view.of(ClockKind::Calendar).fold_sums());
    pair(view.heat, subimago::model::emergence::select::shrunk(Gain { folds: 1000, ..lead }))
}

/// [`shrunk`], but the calendar alone where `unfit` says so of the mixture's lead.
fn unless(view: &View<'_>, unfit: fn(Gain) -> bool) -> Weights {
    let lead = lead(&view.of(view.heat).folds, &view.of(ClockKind::Calendar).folds);
    if unfit(lead) { pair(view.heat, 0.0) } else { shrunk(view) }
}

fn mixed(heat: &LeftOut, calendar: &LeftOut, weight: f64) -> Vec<Vec<f64>> {
    let folds = heat.folds.iter().zip(&calendar.folds);
    folds
        .map(|(a, b)| a.iter().zip(b).map(|(x, y)| (weight * x.exp() + (1.0 - weight) * y.exp()).ln()).collect())
        .collect()
}

fn without(scores: &[LeftOut], fold: usize) -> Vec<LeftOut> {
    let mut rest = scores.to_vec();
    rest.iter_mut().for_each(|s| drop(s.folds.remove(fold)));
    rest
}

/// Log score of a left-out fold under `weights`.
pub(crate) fn score(by_year: &[LeftOut], fold: usize, weights: &Weights) -> f64 {
    let used: Vec<(f64, &LeftOut)> =
        by_year.iter().map(|s| (weights[s.clock.index()], s)).filter(|(w, _)| *w > 0.0).collect();
    (0..by_year[0].folds[fold].len())
        .map(|r| used.iter().map(|(w, s)| w * s.folds[fold][r].exp()).sum::<f64>().ln())
        .sum()
}

/// Summed nested log score of each rule; `None` where a clock failed in one fold and has no scores.
fn nested(candidates: &Candidates) -> Option<[f64; RULES.len()]> {
    let available: Vec<ClockKind> = candidates.fits.iter().map(|f| f.clock).collect();
    if candidates.by_year.len() < available.len() {
        return None;
    }
    let mut sums = [0.0; RULES.len()];
    for fold in 0..candidates.folds.len() {
        let rest = without(&candidates.by_year, fold);
        let choice = candidates.choice(Some(fold));
        let elsewhere = choose(&available, &rest, &candidates.by_site).weights_elsewhere;
        let heat = ClockKind::WORDS.iter().map(|(c, _)| *c).find(|c| elsewhere[c.index()] > 0.0).expect("one clock");
        let view = View { scores: &rest, present: choice.weights, heat };
        for (sum, (_, rule)) in sums.iter_mut().zip(&RULES) {
            *sum += score(&candidates.by_year, fold, &rule(&view));
        }
    }
    Some(sums)
}

fn print_row(name: &str, clubs: &[[f64; RULES.len()]]) {
    print!("{name:<22}");
    for rule in 0..RULES.len() {
        let base = if rule == PRESENT { CALENDAR } else { PRESENT };
        let gains: Vec<f64> = clubs.iter().map(|sums| sums[rule] - sums[base]).collect();
        print!(" {:>18}", format!("{:+.1}", Mean::of(&gains)));
    }
    println!();
}

#[test]
#[ignore = "a quarter of an hour; for choosing the rule, not for guarding it"]
fn ways_to_combine_clocks() {
    println!("\nSummed log score of left-out years per club: gain on the present rule (s.e. over clubs);");
    println!("the present rule itself: gain on the calendar alone. {} seeds per world.\n", seeds());
    for years in [4, 6, 8] {
        println!("{:<22}{}", format!("{years} years"), RULES.map(|(name, _)| format!(" {name:>18}")).concat());
        let mut all = Vec::new();
        for kind in Kind::ALL {
            let clubs: Vec<[f64; RULES.len()]> = (1..=seeds())
                .into_par_iter()
                .filter_map(|seed| Candidates::fit(&Club::new(kind, seed, years).input).as_ref().and_then(nested))
                .collect();
            let failed = seeds() as usize - clubs.len();
            assert!(4 * failed <= seeds() as usize, "{kind:?}: clocks without scores in {failed} clubs");
            if failed > 0 {
                println!("({failed} clubs left out: a clock could not be fitted to one of its folds)");
            }
            print_row(&format!("{kind:?}"), &clubs);
            all.extend(clubs);
        }
        print_row("all worlds", &all);
        // Whoever always takes the calendar, or always heat, must lose where the other is true.
        let present = Mean::of(&all.iter().map(|s| s[PRESENT] - s[CALENDAR]).collect::<Vec<f64>>());
        assert!(present.mean > 0.0, "{years} years: the present rule does not beat the calendar: {present}");
    }
}

#[test]
fn weights_follow_the_scores() {
    let scores = |clock, per_year: f64| LeftOut { clock, folds: vec![vec![per_year, per_year - 0.1]; 6] };
    let rest = [scores(ClockKind::Calendar, -1.0), scores(ClockKind::Thermal, -1.5)];
    let view = View { scores: &rest, present: [0.0; 4], heat: ClockKind::Thermal };
    assert_eq!(stacked(&view), [1.0, 0.0, 0.0, 0.0]);
    assert_eq!(best_single(&view), [1.0, 0.0, 0.0, 0.0]);
    // Six years of 2 x 0.5 against heat, all alike: logistic(ln 3 - 6).
    let expected = 1.0 / (1.0 + (6.0 - 3.0_f64.ln()).exp());
    assert!((shrunk(&view)[1] - expected).abs() < 1e-9);
    let even = score(&rest, 0, &[0.5, 0.5, 0.0, 0.0]);
    let by_hand =
        ((-1.0_f64).exp() * 0.5 + (-1.5_f64).exp() * 0.5).ln() + ((-1.1_f64).exp() * 0.5 + (-1.6_f64).exp() * 0.5).ln();
    assert!((even - by_hand).abs() < 1e-12);
}
