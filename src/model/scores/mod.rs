//! Scores of forecasts against what happened. Lower is better throughout, except for skill.
//!
//! Sources: Gneiting and Raftery 2007 (J. Am. Stat. Assoc. 102:359-378) for the continuous ranked
//! probability score and its closed forms, Epstein 1969 for the ranked probability score, Brier 1950
//! and Murphy 1973 for the Brier score and its parts, Czado et al. 2009 (Biometrics 65:1254-1261) for
//! the probability integral transform of classes; from memory, and held against general-purpose
//! libraries by the tests.

mod classes;
mod crps;

pub use classes::{BrierParts, brier, brier_parts, log_score, pit_cdf, pit_randomised, rps};
pub use crps::{
    censored_log_score_normal, crps_censored_normal, crps_ensemble, crps_ensemble_fair, crps_logistic, crps_lognormal,
    crps_normal, pit_normal,
};

/// Mean absolute error of `predicted` against `observed`, in their unit; NaN when empty.
#[must_use]
pub fn mean_absolute_error(predicted: &[f64], observed: &[f64]) -> f64 {
    let sum: f64 = predicted.iter().zip(observed).map(|(p, o)| (p - o).abs()).sum();
    sum / predicted.len().min(observed.len()) as f64
}

/// Skill of a mean score against that of a null forecast: 1 perfect, 0 no better, negative worse.
#[must_use]
pub fn skill(score: f64, null: f64) -> f64 {
    1.0 - score / null
}
