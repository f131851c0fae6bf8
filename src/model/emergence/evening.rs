//! The same evening, watched twice: what one visit found tells of another on that day beyond what
//! the curve tells, since both met the same air and the same water.
//!
//! An effect of the day, normal with [`EVENING_SD`] on the class scale, is common to the visits of a
//! day at a reach. Given what was found, its distribution over a few nodes is updated, and the
//! classes of that day are averaged over it. The scale keeps the chances of a day without visits as
//! they were (a logistic-normal mean is nearly logistic with slope 1/sqrt(1 + 0.346 sd^2); Demidenko
//! 2004, Mixed Models, section 7.1, from memory).

use crate::model::curve::with_strays;
use crate::model::likelihood::ordinal::{class_probabilities, class_terms, seen_terms};
use crate::model::posterior::data::COVARIATES;
use crate::model::posterior::{Observation, Outcome, Protocol};

use super::draws::DrawnSeason;

/// Standard deviation of the day's effect on the class scale (common practice, no source: two
/// evenings a day apart differ by a class as often as not).
const EVENING_SD: f64 = 1.5;
/// Variance of the standard logistic distribution.
const LOGISTIC_VARIANCE: f64 = std::f64::consts::PI * std::f64::consts::PI / 3.0;
/// Nodes and weights of the normal distribution (five-point Gauss-Hermite rule; Abramowitz and
/// Stegun table 25.10).
const NODES: [(f64, f64); 5] = [
    (-2.856_970_013_872_806, 0.011_257_411_327_720_69),
    (-1.355_626_179_974_266, 0.222_075_922_005_612_64),
    (0.0, 0.533_333_333_333_333_3),
    (1.355_626_179_974_266, 0.222_075_922_005_612_64),
    (2.856_970_013_872_806, 0.011_257_411_327_720_69),
];

/// What each of so many `visits` of one day at a reach counts as, where they are taken one by one: a day's common
/// effect makes them alike, and they tell as much as visits / (1 + (visits - 1) r) separate ones, r being the share
/// of the effect in the variance on the class scale (the design effect of a cluster; Kish 1965, Survey Sampling,
/// from memory).
#[must_use]
pub fn weight_within_a_day(visits: usize) -> f64 {
    let common = EVENING_SD * EVENING_SD;
    let alike = common / (common + LOGISTIC_VARIANCE);
    1.0 / (1.0 + visits.saturating_sub(1) as f64 * alike)
}

/// Class probabilities at `eta` on a day on which `seen` was found at the same reach; those of
/// visits alone count. `effect` tells what the weather of a visit adds on the class scale.
#[must_use]
pub fn class_probabilities_given(
    drawn: &DrawnSeason,
    completed: &[f64],
    eta: f64,
    seen: &[&Observation],
    effect: impl Fn(&[f64; COVARIATES]) -> f64,
) -> [f64; 4] {
    let tau = &drawn.common.tau;
    let scale = (1.0 + 0.346 * EVENING_SD * EVENING_SD).sqrt();
    // Everything on the scale on which the day's effect widens nothing on average.
    let centred = |eta: f64, evening: f64, threshold: &[f64; 3]| {
        let middle = threshold[1];
        (scale * (eta - middle) + evening + middle, threshold.map(|t| scale * (t - middle) + middle))
    };
    let mut total = 0.0;
    let mut sum = [0.0; 4];
    for (node, weight) in NODES {
        let evening = EVENING_SD * node;
        let mut likelihood = weight;
        for o in seen.iter().filter(|o| o.protocol == Protocol::Visit) {
            let share = completed[o.to_day] - completed[o.from_day];
            let base = (with_strays(share, 1.0) * drawn.hours_share(o.hours.as_ref())).ln() + o.log_effort;
            let (at, limits) = centred(drawn.eta(base) + effect(&o.x), evening, tau);
            likelihood *= match o.outcome {
                Outcome::Class(class) => class_terms(at, &limits, class).log_prob.exp(),
                Outcome::Count(0) => class_terms(at, &limits, 0).log_prob.exp(),
                Outcome::Seen | Outcome::Count(_) => seen_terms(at, &limits).log_prob.exp(),
                Outcome::First { .. } => 1.0,
            };
        }
        let (at, limits) = centred(eta, evening, tau);
        let p = class_probabilities(at, &limits);
        sum.iter_mut().zip(p).for_each(|(s, p)| *s += likelihood * p);
        total += likelihood;
    }
    sum.map(|s| s / total)
}

/// `p` with the odds of at least sparse multiplied by `factor`.
#[must_use]
pub fn raised(p: [f64; 4], factor: f64) -> [f64; 4] {
    let any = 1.0 - p[0];
    if any <= 0.0 || p[0] <= 0.0 {
        return p;
    }
    let odds = factor * any / p[0];
    let next = odds / (1.0 + odds);
    [1.0 - next, p[1] * next / any, p[2] * next / any, p[3] * next / any]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::fit::ClockKind;
    use crate::model::curve::Curve;

    use crate::model::posterior::objective::Common;

    /// One draw whose thresholds stand at -8, -6 and -4, without any other effect.
    fn drawn() -> DrawnSeason {
        let tau = [-8.0, -6.0, -4.0];
        let common = Common { mu: 0.0, s: [1.0; 2], gap: 1.0, b: 1.0, tau, spread: 1.5, theta: 1.0, s_first: 1.0 };
        DrawnSeason {
            clock: ClockKind::Calendar,
            base_temp_c: 0.0,
            gate_hours: 12.5,
            curve: Curve::single(0.0, 1.0),
            common,
            alpha: 0.0,
            trap_level: 0.0,
            level: 0.0,
            hours: [12.0, 0.0],
            beta: [0.0; COVARIATES],
        }
    }

    fn visit(outcome: Outcome, protocol: Protocol) -> Observation {
        Observation {
            from_day: 1,
            to_day: 2,
            outcome,
            protocol,
            log_effort: 0.0,
            hours: None,
            x: [0.0; COVARIATES],
            weight: 1.0,
        }
    }

    fn odds(p: [f64; 4]) -> f64 {
        (1.0 - p[0]) / p[0]
    }

    #[test]
    fn a_blank_lowers_the_same_days_odds_a_good_visit_raises_them_and_a_trap_says_nothing() {
        let (drawn, completed) = (drawn(), [0.3, 0.3, 0.32]);
        // About the share of that day: seven in eight to see any.
        let eta = 0.02_f64.ln() - 2.0;
        let given = |seen: &[&Observation]| odds(class_probabilities_given(&drawn, &completed, eta, seen, |_| 0.0));
        let plain = given(&[]);
        // Without a visit the day's effect changes little: the scale is made for that.
        let logistic = odds(class_probabilities(eta, &drawn.common.tau));
        assert!((plain / logistic - 1.0).abs() < 0.15, "{plain} and {logistic}");
        let blank = visit(Outcome::Class(0), Protocol::Visit);
        let heavy = visit(Outcome::Class(3), Protocol::Visit);
        let trap = visit(Outcome::Count(0), Protocol::Trap);
        assert!(given(&[&blank]) < 0.5 * plain, "{} and {plain}", given(&[&blank]));
        assert!(given(&[&heavy]) > 1.5 * plain);
        assert!((given(&[&trap]) - plain).abs() < 1e-12);
    }

    #[test]
    fn visits_of_one_day_count_as_more_than_one_and_never_as_many() {
        let worth = |visits: usize| visits as f64 * weight_within_a_day(visits);
        // 1.5^2 / (1.5^2 + pi^2 / 3) = 0.4061, by hand.
        assert!((worth(1) - 1.0).abs() < 1e-12 && (worth(2) - 2.0 / 1.4061).abs() < 1e-4);
        assert!((2..40).all(|n| worth(n) > worth(n - 1) && worth(n) < 1.0 / 0.4061));
    }

    #[test]
    fn odds_are_multiplied_and_classes_keep_their_proportion() {
        let p = raised([0.8, 0.1, 0.06, 0.04], 2.5);
        assert!((odds(p) - 0.625).abs() < 1e-12 && (p.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        assert!((p[1] / p[3] - 2.5).abs() < 1e-12);
    }
}
