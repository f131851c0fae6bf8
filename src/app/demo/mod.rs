//! The demo: an invented club on an invented river, simulated from a seed.

mod prepare;
mod run;
pub mod simulate;

pub use prepare::{DEFAULT_SEED, Demo, DemoError, Wish, default_today, prepare};
pub use run::{RunError, announce, fit_and_publish};
