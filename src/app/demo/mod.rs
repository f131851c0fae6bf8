//! The demo: an invented club on an invented river, simulated from a seed.

pub mod simulate;
