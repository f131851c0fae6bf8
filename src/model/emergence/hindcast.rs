//! Scores of left-out records: what each clock would have said of years and sites it did not see.

use rand::SeedableRng;
use rand_pcg::Pcg64;

use crate::model::curve::with_strays;
use crate::model::likelihood::first_sighting::first_sighting_terms;
use crate::model::likelihood::negative_binomial::count_terms;
use crate::model::likelihood::ordinal::{class_terms, seen_terms};
use crate::model::posterior::objective::FIRST_SIGHTING_LOGIT;
use crate::model::posterior::{Dataset, Observation, Outcome, Unit};

use super::draws::{DrawnSeason, NewYear, Target};
use super::fit_clock::FittedClock;

/// Draws per left-out site-year; the same random numbers for every clock.
pub const DRAWS: usize = 300;
const SEED: u64 = 0x5eed_0001;

/// Log predictive probability of each record of `unit` under `fit`, which has not seen it.
///
/// Each is log of the mean over draws of the record's probability. `None` when no draw runs.
#[must_use]
pub fn log_scores(
    fit: &FittedClock,
    training: &Dataset,
    unit: &Unit,
    site_known: bool,
    new_year: NewYear,
) -> Option<Vec<f64>> {
    let target = Target { site: site_known.then_some(unit.site), new_year, ..Target::default() };
    let mut rng = Pcg64::seed_from_u64(SEED ^ ((unit.site as u64) << 32) ^ unit.year as u64);
    let mut sums = vec![0.0; unit.observations.len()];
    let (mut clock, mut ran) = (Vec::new(), None);
    let mut n = 0.0;
    let drawer = fit.drawer(&training.climate, &[target]);
    for _ in 0..DRAWS {
        let Some(drawn) = drawer.draw(&mut rng) else { continue };
        let thresholds = Some((drawn.base_temp_c, drawn.gate_hours));
        if ran != thresholds {
            clock = drawn.sums(&unit.drivers, unit.last_day());
            ran = thresholds;
        }
        for (sum, observation) in sums.iter_mut().zip(&unit.observations) {
            *sum += log_prob(&drawn, &clock, observation).exp();
        }
        n += 1.0;
    }
    (n > 0.0).then(|| sums.into_iter().map(|s| (s / n).max(1e-300).ln()).collect())
}

/// log P(observation) under one draw, `sums` being its clock through each day.
#[must_use]
pub fn log_prob(drawn: &DrawnSeason, sums: &[f64], o: &Observation) -> f64 {
    let (c0, c1) = (sums[o.from_day], sums[o.to_day]);
    if let Outcome::First { looked_before } = o.outcome {
        let (c0, days) = if looked_before { (c0, o.to_day - o.from_day) } else { (0.0, o.to_day) };
        let ell = drawn.curve.ell[0] + FIRST_SIGHTING_LOGIT * drawn.curve.s[0];
        return first_sighting_terms(c0, c1, days as f64, ell, drawn.common.s_first).log_prob;
    }
    let share = drawn.curve.completed(c1) - drawn.curve.completed(c0);
    let q = with_strays(share, (o.to_day - o.from_day) as f64);
    let seen = q * drawn.hours_share(o.hours.as_ref());
    let base = seen.ln() + o.log_effort;
    let effects: f64 = drawn.beta.iter().zip(&o.x).map(|(b, x)| b * x).sum();
    match o.outcome {
        Outcome::Count(count) => {
            let mean = drawn.mean_catch(seen, o.log_effort + effects / drawn.common.b, o.protocol);
            count_terms(count, mean, drawn.common.theta).log_prob
        }
        Outcome::Class(class) => class_terms(drawn.eta(base) + effects, &drawn.common.tau, class).log_prob,
        Outcome::Seen | Outcome::First { .. } => seen_terms(drawn.eta(base) + effects, &drawn.common.tau).log_prob,
    }
}
