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
