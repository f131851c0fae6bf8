//! Which clock carries the forecast: whole years left out, whole sites left out.
//!
//! The rule, after a trial on real counts: with few years learned weights are a coin toss, so the
//! heat clock starts with weight 0.75 and the best calendar with 0.25. The calendar takes over when
//! it is better by one standard error over at least six years. A photothermal or gated clock takes
//! the heat clock's place when better by one standard error over at least six years. From ten years
//! on the weights are learned: those that maximise the left-out log score (stacking; Yao et al.
//! 2018, Bayesian Analysis 13:917-1007, from memory).

use crate::domain::fit::ClockKind;

/// Years from which a clock may be displaced by evidence.
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
        return Gain { sum, se: f64::INFINITY };
    }
    let mean = sum / n;
    let variance = differences.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0);
    Gain { sum, se: (n * variance).sqrt() }
}

impl LeftOut {
    /// Sum of log scores per fold.
    #[must_use]
    pub fn fold_sums(&self) -> Vec<f64> {
        self.folds.iter().map(|f| f.iter().sum()).collect()
    }
}

/// The weights and what they rest on.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// Weights of the four clocks for reaches with records.
    pub weights: [f64; 4],
    /// Weights for reaches without records.
    pub weights_elsewhere: [f64; 4],
    /// Chosen weights' left-out score better than the calendar's by more than one standard error.
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
        if years >= YEARS_TO_STACK {
            let share = stack(&hot.folds, &null.folds);
            weights = [0.0; 4];
            weights[clock.index()] = share;
            weights[ClockKind::Calendar.index()] = 1.0 - share;
        } else if years >= YEARS_TO_JUDGE {
            let lead = gain(&null.fold_sums(), &hot.fold_sums());
            if lead.sum > lead.se {
                weights = [0.0; 4];
                weights[ClockKind::Calendar.index()] = 1.0;
            }
        }
    }
    let beats_calendar = null.is_some_and(|null| {
        let mixed = mixture(by_year, &weights);
        let lead = gain(&mixed, &null.fold_sums());
        years >= 3 && lead.sum > lead.se && lead.sum > 0.0
    });
    Choice { weights, weights_elsewhere: elsewhere, beats_calendar }
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

/// Log score per fold of the mixture of clocks with `weights`.
fn mixture(scores: &[LeftOut], weights: &[f64; 4]) -> Vec<f64> {
    let parts: Vec<(&LeftOut, f64)> =
        scores.iter().map(|s| (s, weights[s.clock.index()])).filter(|(_, w)| *w > 0.0).collect();
    let folds = parts.first().map_or(0, |(s, _)| s.folds.len());
    (0..folds)
        .map(|fold| {
            (0..parts[0].0.folds[fold].len())
                .map(|record| parts.iter().map(|(s, w)| w * s.folds[fold][record].exp()).sum::<f64>().ln())
                .sum()
        })
        .collect()
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
    fn few_years_keep_the_prior_choice_and_six_let_the_calendar_win() {
        let available = [ClockKind::Calendar, ClockKind::Thermal];
        let few = [scores(ClockKind::Calendar, &[-1.0; 4]), scores(ClockKind::Thermal, &[-1.4, -1.5, -1.6, -1.3])];
        assert_eq!(choose(&available, &few, &[]).weights, [0.25, 0.75, 0.0, 0.0]);
        let six = [
            scores(ClockKind::Calendar, &[-1.0; 6]),
            scores(ClockKind::Thermal, &[-1.4, -1.5, -1.6, -1.3, -1.5, -1.4]),
        ];
        let choice = choose(&available, &six, &[]);
        assert_eq!(choice.weights, [1.0, 0.0, 0.0, 0.0]);
        assert!(!choice.beats_calendar);
        assert_eq!(choice.weights_elsewhere, [0.0, 1.0, 0.0, 0.0]);
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
        assert_eq!(choose(&available, &by_year(6), &[]).weights[3], HEAT_WEIGHT);
    }
}
