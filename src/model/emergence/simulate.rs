//! What records would show: catches or classes on the usual visit days of one drawn season.

use rand::{Rng, RngExt};
use rand_distr::{Distribution, Gamma, Poisson};

use crate::model::curve::with_strays;
use crate::model::likelihood::ordinal::Thresholds;
use crate::model::posterior::Outcome;

use super::draws::DrawnSeason;
use super::fitted::Member;
use super::schedule::Schedule;
use super::shown::{Scale, Shown, insects};

/// What the records of one drawn season would show, `sums` being its clock through each day, to the last
/// visit's at least or to the season's end.
pub fn records<R: Rng>(drawn: &DrawnSeason, sums: &[f64], schedule: &Schedule, scale: &Scale, rng: &mut R) -> Shown {
    let last = sums.len() - 1;
    let thresholds = Thresholds::new(&drawn.common.tau);
    let completed = |day: usize| drawn.curve.completed(sums[day]);
    let mut shown =
        Shown { protocol: schedule.protocol, values: Vec::with_capacity(schedule.visits.len()), insects: 0.0 };
    for visit in &schedule.visits {
        let (from, to) = (visit.from_day.min(last), visit.to_day.min(last));
        let q = with_strays(completed(to) - completed(from), (to.saturating_sub(from)).max(1) as f64);
        let seen = q * drawn.hours_share(visit.hours.as_ref());
        let outcome = if visit.counted {
            let mean = drawn.mean_catch(seen, visit.log_effort, schedule.protocol);
            Outcome::Count(draw_count(mean, drawn.common.theta, rng) as u32)
        } else {
            let p = thresholds.probabilities(drawn.eta(seen.ln() + visit.log_effort));
            Outcome::Class(pick(&p, rng.random::<f64>()))
        };
        shown.insects += insects(outcome);
        let value = scale.value(outcome, schedule.protocol, visit.log_effort).unwrap_or(0.0);
        shown.values.push((visit.to_day as f64, value));
    }
    shown
}

/// The milestones that such records would show under `member`, calibrated; `None` with too few
/// insects.
pub fn dates<R: Rng>(
    member: &Member,
    drawn: &DrawnSeason,
    sums: &[f64],
    schedule: &Schedule,
    rng: &mut R,
) -> Option<[f64; 5]> {
    let mut dates = records(drawn, sums, schedule, &Scale::of(&member.fit), rng).dates()?;
    dates.iter_mut().zip(member.calibration_days).for_each(|(date, shift)| *date += shift);
    Some(dates)
}

/// Mean up to which a count is found by adding up probabilities: most visits of a year expect next to nothing.
const FEW: f64 = 8.0;
/// A probability that ends the adding up.
const NOTHING: f64 = 1e-17;

/// A negative-binomial count: by inversion where few are expected, else as a gamma mixture of Poisson counts.
fn draw_count<R: Rng>(mean: f64, theta: f64, rng: &mut R) -> f64 {
    if mean <= FEW {
        return small_count(mean, theta, rng.random::<f64>());
    }
    let rate = Gamma::new(theta, mean / theta).map_or(mean, |gamma| gamma.sample(rng));
    // Beyond this a Poisson count is its rate to within a third of a percent.
    if rate > 1e5 {
        return rate.round();
    }
    Poisson::new(rate.max(1e-12)).map_or(0.0, |poisson| poisson.sample(rng))
}

/// The smallest n with P(N <= n) > `u`, from P(n + 1) = P(n) (n + theta)/(n + 1) m/(m + theta).
fn small_count(mean: f64, theta: f64, u: f64) -> f64 {
    let part = mean / (mean + theta);
    let (mut n, mut left) = (0.0, u);
    let mut p = (-theta * (mean / theta).ln_1p()).exp();
    while left >= p && (p > NOTHING || n < mean) {
        left -= p;
        p *= (n + theta) / (n + 1.0) * part;
        n += 1.0;
    }
    n
}

fn pick(probabilities: &[f64; 4], u: f64) -> usize {
    let mut sum = 0.0;
    for (class, p) in probabilities.iter().enumerate() {
        sum += p;
        if u < sum {
            return class;
        }
    }
    3
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_pcg::Pcg64;

    use super::*;
    use crate::model::likelihood::negative_binomial::count_terms;

    #[test]
    fn small_counts_turn_over_where_the_probabilities_add_up_to_the_deviate() {
        for (mean, theta) in [(1e-5, 0.6), (0.4, 0.3), (3.0, 1.2), (8.0, 40.0)] {
            let mut sum = 0.0;
            for n in 0..12_u32 {
                let before = small_count(mean, theta, sum + 1e-12);
                sum += count_terms(n, mean, theta).log_prob.exp();
                if sum < 1.0 - 1e-9 {
                    let turned = small_count(mean, theta, sum + 1e-12);
                    assert_eq!((before, turned), (f64::from(n), f64::from(n) + 1.0), "{mean} {theta}");
                }
            }
            assert!(small_count(mean, theta, 1.0 - f64::EPSILON).is_finite());
        }
    }

    #[test]
    fn both_ways_of_drawing_have_the_same_mean_and_spread() {
        let mut rng = Pcg64::seed_from_u64(5);
        for (mean, theta) in [(FEW - 0.01, 1.5), (FEW + 0.01, 1.5)] {
            let draws: Vec<f64> = (0..40_000).map(|_| draw_count(mean, theta, &mut rng)).collect();
            let n = draws.len() as f64;
            let found = draws.iter().sum::<f64>() / n;
            let variance = draws.iter().map(|d| (d - found).powi(2)).sum::<f64>() / n;
            let expected = mean + mean * mean / theta;
            assert!((found - mean).abs() < 4.0 * (expected / n).sqrt(), "{found} for {mean}");
            assert!((variance / expected - 1.0).abs() < 0.08, "{variance} for {expected}");
        }
    }
}
