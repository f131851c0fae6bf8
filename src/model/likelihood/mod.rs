//! Log-probabilities of single records given what the curve expects, with derivatives.

pub mod first_sighting;
pub mod negative_binomial;
pub mod normal_interval;
pub mod ordinal;
pub mod time_of_day;
