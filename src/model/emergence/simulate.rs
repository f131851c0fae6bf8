//! What records would show: catches or classes on the usual visit days of one drawn season.

use rand::{Rng, RngExt};
use rand_distr::{Distribution, Gamma, Poisson};

use crate::model::curve::with_strays;
use crate::model::likelihood::ordinal::class_probabilities;

use super::dates::day_of_share;
use super::draws::DrawnSeason;
use super::schedule::Schedule;

/// Relative numbers behind the classes none, sparse, moderate, heavy when a season's share has to be
/// read off classes: each class stands for about three times the one before (common practice, no
/// source).
pub const CLASS_NUMBERS: [f64; 4] = [0.0, 1.0, 3.0, 9.0];
/// A season whose records show fewer insects than this tells no dates (the definition used for
/// observed dates).
pub const LEAST_CATCH: f64 = 15.0;

/// The catches per effort (or class numbers) that one season's records would show.
pub fn records<R: Rng>(
    drawn: &DrawnSeason,
    completed: &[f64],
    schedule: &Schedule,
    hours_share: f64,
    rng: &mut R,
) -> (Vec<(f64, f64)>, f64) {
    let last = completed.len() - 1;
    let mut shown = Vec::with_capacity(schedule.visits.len());
    let mut total = 0.0;
    for visit in &schedule.visits {
        let (from, to) = (visit.from_day.min(last), visit.to_day.min(last));
        let q = with_strays(completed[to] - completed[from], (to.saturating_sub(from)).max(1) as f64);
        let value = if visit.counted {
            let count = draw_count(drawn.mean_catch(q, visit.log_effort), drawn.common.theta, rng);
            total += count;
            count / visit.log_effort.exp()
        } else {
            let p = class_probabilities(drawn.eta(q.ln() + hours_share.ln() + visit.log_effort), &drawn.common.tau);
            let class = pick(&p, rng.random::<f64>());
            total += if class > 0 { LEAST_CATCH } else { 0.0 };
            CLASS_NUMBERS[class]
        };
        shown.push((visit.to_day as f64, value));
    }
    (shown, total)
}

/// Days on which such records reach each of `shares`; `None` for a season with too few insects.
#[must_use]
pub fn dates(shown: &[(f64, f64)], total: f64, shares: &[f64; 5]) -> Option<[f64; 5]> {
    if total < LEAST_CATCH {
        return None;
    }
    let mut days = [0.0; 5];
    for (day, &share) in days.iter_mut().zip(shares) {
        *day = day_of_share(shown, share)?;
    }
    Some(days)
}

/// A negative-binomial count as a gamma mixture of Poisson counts.
fn draw_count<R: Rng>(mean: f64, theta: f64, rng: &mut R) -> f64 {
    let rate = Gamma::new(theta, mean / theta).map_or(mean, |gamma| gamma.sample(rng));
    // Beyond this a Poisson count is its rate to within a third of a percent.
    if rate > 1e5 {
        return rate.round();
    }
    Poisson::new(rate.max(1e-12)).map_or(0.0, |poisson| poisson.sample(rng))
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
