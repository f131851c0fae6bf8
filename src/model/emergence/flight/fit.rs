//! The fit of a taxon's flights under the mode of its emergence fit.

use nalgebra::{Cholesky, DMatrix, DVector};
use rand::SeedableRng;
use rand_pcg::Pcg64;

use crate::model::clock::Drivers;
use crate::model::laplace::{Laplace, approximate_surface};
use crate::model::likelihood::ordinal::{OrdinalTerms, class_terms, seen_terms};
use crate::model::likelihood::time_of_day::{Midnight, hours_terms};
use crate::model::optimise::Stop;
use crate::model::posterior::Outcome;

use super::super::draws::{DrawnSeason, Target};
use super::super::fit_clock::FittedClock;
use super::{BETA, DELTA, FlightFit, FlightInput, FlightObservation, FlightUnit, LOG_SPREAD, OFFSET, emerged, priors};

const STOP: Stop = Stop { max_evaluations: 200, gradient: 1e-6 };

/// Draws of the emergence fit under which flights are fitted again.
const IMPUTATIONS: usize = 8;
/// Seed of these draws: the fit must not depend on the caller.
const SEED: u64 = 0xf11_6475;

/// Fits the flights of `input` under `emergence`, made in `climate`; `target` gives the effects of a site and
/// season. `None` when the emergence clock does not run or the search finds no proper mode.
///
/// The mode is that under the mode of the emergence fit. What that fit does not know is carried over by
/// fitting under draws of it as well: the covariance is the mean one within plus (1 + 1/m) times that between
/// the m fits (Rubin 1987, Multiple Imputation for Nonresponse in Surveys; from memory).
#[must_use]
pub fn fit_flights(
    input: &FlightInput,
    emergence: &FittedClock,
    climate: &Drivers,
    target: &dyn Fn(usize, i32) -> Target,
) -> Option<FlightFit> {
    let lag_days = input.habit.lag_days;
    let at_mode = |unit: &FlightUnit| emergence.expected(climate, target(unit.site, unit.year));
    let mut laplace = fit_under(input, &at_mode)?;
    let records = input.len();
    if records == 0 {
        return Some(FlightFit { lag_days, laplace, records });
    }
    let drawer = |unit: &FlightUnit| emergence.drawer(climate, &[target(unit.site, unit.year)]);
    let drawers: Vec<_> = input.units.iter().map(|unit| ((unit.site, unit.year), drawer(unit))).collect();
    let others: Vec<Laplace> = (0..IMPUTATIONS as u64)
        .filter_map(|k| {
            let drawn = |unit: &FlightUnit| {
                // The same stream for every unit: one draw of the parameters for all.
                let mut rng = Pcg64::seed_from_u64(SEED + k);
                drawers.iter().find(|(of, _)| *of == (unit.site, unit.year))?.1.draw(&mut rng)
            };
            fit_under(input, &drawn)
        })
        .collect();
    if others.len() > 1 {
        laplace.precision = Cholesky::new(pooled_covariance(&others).try_inverse()?)?;
    }
    Some(FlightFit { lag_days, laplace, records })
}

/// Mean covariance within the fits plus (1 + 1/m) times the covariance between their modes.
fn pooled_covariance(fits: &[Laplace]) -> DMatrix<f64> {
    let m = fits.len() as f64;
    let modes: Vec<DVector<f64>> = fits.iter().map(|fit| DVector::from_column_slice(&fit.mode)).collect();
    let mean = modes.iter().fold(DVector::zeros(modes[0].len()), |sum, mode| sum + mode) / m;
    let none = || DMatrix::zeros(mean.len(), mean.len());
    let within = fits.iter().fold(none(), |sum, fit| sum + fit.precision.inverse()) / m;
    let between = modes.iter().fold(none(), |sum, mode| sum + (mode - &mean) * (mode - &mean).transpose()) / (m - 1.0);
    within + between * (1.0 + 1.0 / m)
}

/// Mode and curvature under the seasons that `season` gives.
fn fit_under(input: &FlightInput, season: &dyn Fn(&FlightUnit) -> Option<DrawnSeason>) -> Option<Laplace> {
    let priors = priors(&input.habit);
    let mut watches = Vec::new();
    for unit in &input.units {
        let season = season(unit)?;
        let completed = season.completed(&season.sums(&unit.drivers, unit.drivers.len()));
        watches.extend(unit.observations.iter().map(|o| Watch {
            base: season.eta(emerged(&completed, o.day, input.habit.lag_days).ln() + o.log_effort),
            b: season.common.b,
            tau: season.common.tau,
            observation: o,
        }));
    }
    let mut surface = |theta: &[f64], gradient: &mut [f64]| {
        gradient.fill(0.0);
        let value = priors.add(theta, gradient);
        watches.iter().fold(value, |value, watch| value - watch.log_prob(theta, gradient))
    };
    approximate_surface(&mut surface, &priors.means(), &priors, STOP).ok()
}

/// One watch with what the emergence fit says of its day.
struct Watch<'a> {
    base: f64,
    b: f64,
    tau: [f64; 3],
    observation: &'a FlightObservation,
}

impl Watch<'_> {
    /// Log probability of what was seen; takes its gradient from `gradient`.
    fn log_prob(&self, theta: &[f64], gradient: &mut [f64]) -> f64 {
        let o = self.observation;
        let spread = theta[LOG_SPREAD].exp();
        let hours = hours_terms(o.hours.0, o.hours.1, theta[OFFSET], spread, Midnight::Wraps);
        let effects: f64 = o.x.iter().enumerate().map(|(k, x)| theta[BETA + k] * x).sum();
        let eta = self.base + self.b * hours.value.ln() + theta[DELTA] + effects;
        let OrdinalTerms { log_prob, d_eta, .. } = match o.outcome {
            Outcome::Class(class) => class_terms(eta, &self.tau, class),
            // Counts of flights are read as classes before they come here.
            Outcome::Seen | Outcome::Count(_) | Outcome::First { .. } => seen_terms(eta, &self.tau),
        };
        gradient[DELTA] -= d_eta;
        gradient[OFFSET] -= d_eta * self.b * hours.d_peak / hours.value;
        gradient[LOG_SPREAD] -= d_eta * self.b * hours.d_spread * spread / hours.value;
        o.x.iter().enumerate().for_each(|(k, x)| gradient[BETA + k] -= d_eta * x);
        log_prob
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_gradient_of_a_watch_is_that_of_its_log_probability() {
        let observation = FlightObservation {
            day: 10,
            outcome: Outcome::Class(2),
            log_effort: 0.3,
            hours: (-1.5, 0.7),
            x: [0.8, 0.4, 0.6],
        };
        let watch = Watch { base: -1.0, b: 0.9, tau: [-2.0, -0.5, 1.0], observation: &observation };
        let theta = [0.4, -0.6, -0.3, -0.7, -0.5, -0.7];
        let mut gradient = [0.0; 6];
        watch.log_prob(&theta, &mut gradient);
        for index in 0..6 {
            let at = |step: f64| {
                let mut moved = theta;
                moved[index] += step;
                watch.log_prob(&moved, &mut [0.0; 6])
            };
            let slope = (at(1e-5) - at(-1e-5)) / 2e-5;
            assert!((slope + gradient[index]).abs() < 1e-8, "{index}: {slope} against {}", -gradient[index]);
        }
    }
}
