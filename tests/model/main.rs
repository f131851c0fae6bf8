//! The pure model against independent values.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    clippy::type_complexity,
    reason = "a test stops at the first surprise, says what it measured, and is read once"
)]
#![allow(missing_docs, reason = "tests")]

mod autumn;
mod chains;
mod curvature;
mod day_length;
mod degree_days;
mod driven_water;
mod flights;
mod golden;
mod guidance;
#[allow(dead_code, reason = "the outside tests also sample with sds held")]
mod hierarchy;
mod likelihoods;
mod neighbour;
mod parts;
mod rates;
mod records_used;
mod recovery;
mod reference;
mod review;
mod river;
mod sampled;
mod scores;
mod seen;
mod simulated;
mod table;
mod temperature;
mod weather;
#[allow(dead_code, reason = "some worlds are for the tests of whole forecasts")]
mod world;
mod world_checks;
