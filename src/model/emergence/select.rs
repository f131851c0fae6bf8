//! Which clock carries the forecast: whole years left out, whole sites left out.
//!
//! The heat clock starts with weight 0.75 and the best calendar with 0.25. From four years on the odds
//! move by the difference of their left-out log scores, drawn towards the start by its uncertainty:
//! the weight is the mean of logistic(ln 3 + D), D by Student's t about the summed difference with its
//! standard error over years (pseudo-BMA with uncertainty about a prior; Yao et al. 2018, Bayesian
//! Analysis 13:917-1007, from memory; t in place of their bootstrap since years are few). On simulated
//! clubs of four and eight years this beat fixed weights and picking one clock and was no worse than
//! stacking; on real weekly counts of three years it lost to fixed weights, hence four. From ten years
//! on the weights are those that maximise the left-out log score (stacking; same paper). From six years
//! on the calendar alone is shipped where the mixture did not lead it in years left out: heat that adds
//! nothing only moves dates about. On simulated clubs of six and eight years that was a little better
//! than the mixture over all worlds; on five, no better. A photothermal or gated clock takes the heat
//! clock's place when better by one standard error over at least six years.

use std::f64::consts::PI;

use crate::domain::fit::ClockKind;

/// Years from which evidence moves the weights: of three, each is judged by a fit to two.
pub const YEARS_TO_WEIGH: usize = 4;
/// Years from which the calendar can be said to be beaten: of fewer, chance alone says so in one case of five.
const YEARS_TO_BEAT: usize = 4;
/// Years from which another heat clock may take the thermal one's place, and the calendar that of all heat.
pub const YEARS_TO_JUDGE: usize = 6;
/// Years from which weights are learned.
pub const YEARS_TO_STACK: usize = 10;
/// Weight of the heat clock before evidence.
pub const HEAT_WEIGHT: f64 = 0.75;

/// Left-out log scores of one clock: a list per year (or site), records in the same order for all.
#[derive(Debug, Clone, PartialEq)]
pub struct LeftOut {
    /// The clock.
    pub clock: ClockKind,
    /// Log probabilities of the left-out records, by fold.
    pub folds: Vec<Vec<f64>>,
}

/// Difference of two clocks' summed log scores and its standard error over folds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// Number of folds.
    pub folds: usize,
    /// Sum over folds of a minus b.
    pub sum: f64,
    /// Standard error of the sum: folds are independent, records within one are not.
    pub se: f64,
}

/// Gain of `a` over `b`, both as fold sums.
#[must_use]
pub fn gain(a: &[f64], b: &[f64]) -> Gain {
    let differences: Vec<f64> = a.iter().zip(b).map(|(x, y)| x - y).collect();
    let n = differences.len() as f64;
    let sum: f64 = differences.iter().sum();
    if differences.len() < 2 {
        return Gain { folds: differences.len(), sum, se: f64::INFINITY };
    }
    let mean = sum / n;
    let variance = differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0);
    Gain { folds: differences.len(), sum, se: (n * variance).sqrt() }
}

impl LeftOut {
    /// Sum of log scores per fold.
    #[must_use]
    pub fn fold_sums(&self) -> Vec<f64> {
        sums(&self.folds)
    }
}

/// The weights and what they rest on.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Weights of the four clocks for reaches with records.
    pub weights: [f64; 4],
    /// Weights for reaches without records.
    pub weights_elsewhere: [f64; 4],
    /// Left-out score better than the calendar's by more than one standard error, weights chosen without the year scored.
    pub beats_calendar: bool,
}

/// Chooses among the clocks that could be fitted.
///
/// `by_year` and `by_site` hold left-out scores (empty when there were too few folds); `available`
/// lists the fitted clocks.
#[must_use]
pub fn choose(available: &[ClockKind], by_year: &[LeftOut], by_site: &[LeftOut]) -> Choice {
    let heat = heat_clock(available, by_year, by_site);
    let mut weights = [0.0; 4];
    let mut elsewhere = [0.0; 4];
    let mut beats_calendar = false;
    let calendar = available.contains(&ClockKind::Calendar);
    match (heat, calendar) {
        (None, _) => weights[ClockKind::Calendar.index()] = 1.0,
        (Some(clock), false) => weights[clock.index()] = 1.0,
        (Some(clock), true) => {
            weights[clock.index()] = HEAT_WEIGHT;
            weights[ClockKind::Calendar.index()] = 1.0 - HEAT_WEIGHT;
        }
    }
    elsewhere[heat.unwrap_or(ClockKind::Calendar).index()] = 1.0;
    let find = |clock: ClockKind| by_year.iter().find(|s| s.clock == clock);
    let null = find(ClockKind::Calendar);
    let years = null.map_or(0, |s| s.folds.len());
    if let (Some(clock), Some(null)) = (heat, null)
        && let Some(hot) = find(clock)
    {
        let lead = lead(&hot.folds, &null.folds);
        beats_calendar = years >= YEARS_TO_BEAT && lead.sum > lead.se;
        let no_gain = years >= YEARS_TO_JUDGE && lead.sum <= 0.0;
        let share = if no_gain { 0.0 } else { heat_share(&hot.folds, &null.folds) };
        weights = [0.0; 4];
        weights[clock.index()] = share;
        weights[ClockKind::Calendar.index()] = 1.0 - share;
    }
    Choice { weights, weights_elsewhere: elsewhere, beats_calendar }
}

/// Weight of the heat clock against the calendar, from their left-out scores by year.
fn heat_share(hot: &[Vec<f64>], null: &[Vec<f64>]) -> f64 {
    match null.len() {
        years if years >= YEARS_TO_STACK => stack(hot, null),
        years if years >= YEARS_TO_WEIGH => shrunk(gain(&sums(hot), &sums(null))),
        _ => HEAT_WEIGHT,
    }
}

/// By how much the mixture of `hot` and the calendar leads the calendar, each year under the weight that the other years
/// give: its own would have learned from it.
#[must_use]
pub fn lead(hot: &[Vec<f64>], null: &[Vec<f64>]) -> Gain {
    let mixed: Vec<f64> = (0..null.len())
        .map(|year| {
            let others = |folds: &[Vec<f64>]| [&folds[..year], &folds[year + 1..]].concat();
            let share = heat_share(&others(hot), &others(null));
            let records = hot[year].iter().zip(&null[year]);
            records.map(|(a, b)| (share * a.exp() + (1.0 - share) * b.exp()).ln()).sum()
        })
        .collect();
    gain(&mixed, &sums(null))
}

fn sums(folds: &[Vec<f64>]) -> Vec<f64> {
    folds.iter().map(|fold| fold.iter().sum()).collect()
}

/// The clock on heat that stands for warmth: thermal, unless another is clearly better on left-out
/// years and no worse on left-out sites.
fn heat_clock(available: &[ClockKind], by_year: &[LeftOut], by_site: &[LeftOut]) -> Option<ClockKind> {
    let mut best = available.iter().copied().find(|c| *c != ClockKind::Calendar)?;
    if available.contains(&ClockKind::Thermal) {
        best = ClockKind::Thermal;
    }
    let incumbent = best;
    for &rival in available.iter().filter(|c| **c != ClockKind::Calendar && **c != incumbent) {
        let pair = |scores: &[LeftOut]| {
            let find = |clock| scores.iter().find(|s| s.clock == clock).map(LeftOut::fold_sums);
            Some(gain(&find(rival)?, &find(best)?))
        };
        let years = by_year.first().map_or(0, |s| s.folds.len());
        let better = pair(by_year).is_some_and(|g| g.sum > g.se);
        let carries = pair(by_site).is_none_or(|g| g.sum > -g.se);
        if years >= YEARS_TO_JUDGE && better && carries {
            best = rival;
        }
    }
    Some(best)
}

/// Weight of the heat clock whose left-out score leads the calendar's by `lead`: the mean of
/// logistic(prior log odds + D), D by Student's t with one degree of freedom less than folds, since
/// the standard error is estimated from as few. The mean is taken over the angle whose tangent is the
/// standardised D, in which the heaviest tail is bounded.
#[must_use]
pub fn shrunk(lead: Gain) -> f64 {
    const STEPS: u16 = 2000;
    let freedom = lead.folds.max(2) as f64 - 1.0;
    let prior = (HEAT_WEIGHT / (1.0 - HEAT_WEIGHT)).ln();
    let (mut sum, mut mass) = (0.0, 0.0);
    for k in 0..STEPS {
        let z = (PI * ((f64::from(k) + 0.5) / f64::from(STEPS) - 0.5)).tan();
        let density = (1.0 + z * z) * (1.0 + z * z / freedom).powf(-0.5 * (freedom + 1.0));
        sum += density / (1.0 + (-(prior + lead.sum + lead.se * z)).exp());
        mass += density;
    }
    sum / mass
}

/// Weight of `a` against `b` that maximises the summed log score of their mixture: fixed-point (EM)
/// iteration, which climbs to the one maximum of this concave function.
fn stack(a: &[Vec<f64>], b: &[Vec<f64>]) -> f64 {
    let pairs: Vec<(f64, f64)> =
        a.iter().zip(b).flat_map(|(x, y)| x.iter().zip(y)).map(|(x, y)| (x.exp(), y.exp())).collect();
    let mut share = 0.5;
    for _ in 0..500 {
        let next = pairs.iter().map(|(x, y)| share * x / (share * x + (1.0 - share) * y)).sum::<f64>()
            / pairs.len().max(1) as f64;
        if (next - share).abs() < 1e-9 {
            break;
        }
        share = next;
    }
    share
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scores(clock: ClockKind, per_year: &[f64]) -> LeftOut {
        LeftOut { clock, folds: per_year.iter().map(|s| vec![*s; 3]).collect() }
    }

    #[test]
    fn three_years_keep_the_start_and_more_move_the_weights_as_far_as_they_agree() {
        let logistic = |log_odds: f64| 1.0 / (1.0 + (-log_odds).exp());
        let available = [ClockKind::Calendar, ClockKind::Thermal];
        let against = |heat: &[f64]| {
            let by_year = [scores(ClockKind::Calendar, &vec![-1.0; heat.len()]), scores(ClockKind::Thermal, heat)];
            choose(&available, &by_year, &[])
        };
        assert_eq!(against(&[-9.0; 3]).weights, [0.25, 0.75, 0.0, 0.0]);
        // Five years of three records, each 0.5 worse: logistic(ln 3 - 7.5) exactly, since all years agree.
        let choice = against(&[-1.5; 5]);
        assert!((choice.weights[1] - logistic(3.0_f64.ln() - 7.5)).abs() < 1e-9, "{choice:?}");
        assert!(!choice.beats_calendar);
        assert_eq!(choice.weights_elsewhere, [0.0, 1.0, 0.0, 0.0]);
        // The same sum from years that disagree says less.
        let torn = against(&[-3.5, 0.5, -3.5, 0.5, -1.5]);
        assert!(torn.weights[1] > 0.1 && torn.weights[1] < 0.5, "{torn:?}");
        // No difference at all leaves the start.
        let even = against(&[-1.0; 5]);
        assert!((even.weights[1] - 0.75).abs() < 1e-12 && !even.beats_calendar, "{even:?}");
        // Six years that are better by a little.
        let six = against(&[-0.9; 6]);
        assert!((six.weights[1] - logistic(3.0_f64.ln() + 1.8)).abs() < 1e-9 && six.beats_calendar, "{six:?}");
    }

    #[test]
    fn from_six_years_on_heat_that_adds_nothing_leaves_the_calendar_alone() {
        let available = [ClockKind::Calendar, ClockKind::Thermal];
        let against = |heat: &[f64]| {
            let by_year = [scores(ClockKind::Calendar, &vec![-1.0; heat.len()]), scores(ClockKind::Thermal, heat)];
            choose(&available, &by_year, &[])
        };
        for heat in [vec![-1.5; 6], vec![-1.0; 6], vec![-1.01; 12]] {
            let choice = against(&heat);
            assert_eq!((choice.weights, choice.beats_calendar), ([1.0, 0.0, 0.0, 0.0], false), "{heat:?}");
            assert_eq!(choice.weights_elsewhere, [0.0, 1.0, 0.0, 0.0], "a bare date is not carried elsewhere");
        }
        // A lead within its error is no claim, but the better of two guesses.
        let torn = against(&[-1.5, -0.4, -0.8, -1.2, -0.9, -0.7]);
        assert!(torn.weights[1] > 0.0 && !torn.beats_calendar, "{torn:?}");
    }

    #[test]
    fn ten_years_learn_the_weights_and_heat_that_wins_says_so() {
        let available = [ClockKind::Calendar, ClockKind::Thermal];
        let good: Vec<f64> = (0..10).map(|y| -0.5 - 0.01 * f64::from(y)).collect();
        let by_year = [scores(ClockKind::Calendar, &[-1.5; 10]), scores(ClockKind::Thermal, &good)];
        let choice = choose(&available, &by_year, &[]);
        assert!(choice.weights[1] > 0.99 && choice.beats_calendar, "{choice:?}");
    }

    #[test]
    fn a_lead_that_one_year_gives_itself_is_none() {
        let available = [ClockKind::Calendar, ClockKind::Thermal];
        // Heat is worse in every year but one, in which it is better by as much as the calendar elsewhere together.
        let mut heat = vec![-1.1; 12];
        heat[4] = -0.2;
        let by_year = [scores(ClockKind::Calendar, &[-1.0; 12]), scores(ClockKind::Thermal, &heat)];
        let choice = choose(&available, &by_year, &[]);
        assert!(!choice.beats_calendar, "{choice:?}");
        // Three years that agree are still three.
        let few = [scores(ClockKind::Calendar, &[-1.5; 3]), scores(ClockKind::Thermal, &[-0.5, -0.51, -0.52])];
        assert!(!choose(&available, &few, &[]).beats_calendar);
    }

    #[test]
    fn the_gate_must_earn_its_place_over_six_years() {
        let available = [ClockKind::Calendar, ClockKind::Thermal, ClockKind::Gated];
        let by_year = |n: usize| {
            [
                scores(ClockKind::Calendar, &vec![-1.5; n]),
                scores(ClockKind::Thermal, &vec![-1.2; n]),
                scores(ClockKind::Gated, &vec![-0.4; n]),
            ]
        };
        assert_eq!(choose(&available, &by_year(5), &[]).weights[3], 0.0);
        assert!(choose(&available, &by_year(6), &[]).weights[3] > 0.99);
    }
}
