//! The whole service on the invented club: what must happen to a forecast when the data change in a
//! known way.
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

mod air;
mod club;
mod half_year;
mod in_season;
mod metamorphic;
mod neighbour;
mod outdated;
mod places;
mod reports;
mod season_elsewhere;
mod skill;
mod water_hours;
