//! From records to an emergence forecast: priors in days, one fit per clock, predictive draws.

pub mod dates;
pub mod draws;
pub mod effects;
pub mod fit_clock;
pub mod prior;

pub use draws::{DrawnSeason, Target};
pub use effects::EffectSds;
pub use fit_clock::{FittedClock, fit_clock};
pub use prior::TaxonPrior;
