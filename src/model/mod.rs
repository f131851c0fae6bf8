//! Pure mathematics of emergence. No async, no I/O, no wall clock, no global state; deterministic
//! for a seed.

pub mod clock;
pub mod curve;
pub mod daylength;
pub mod emergence;
pub mod guidance;
pub mod laplace;
pub mod least_squares;
pub mod likelihood;
pub mod optimise;
pub mod posterior;
pub mod quality;
pub mod rate;
pub mod record_checks;
pub mod scores;
pub mod temperature;
pub mod thermal;
