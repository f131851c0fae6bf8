//! Pure mathematics of emergence. No async, no I/O, no wall clock, no global state; deterministic for a seed.

pub mod daylength;
pub mod rate;
pub mod thermal;
