//! The model against data that do not belong to this repository.
//!
//! They are read from `shared` beside it. Where that is absent the tests say so and pass, except
//! in continuous integration (`CI=true`), where they fail.
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
#![allow(clippy::print_stderr, reason = "a skipped test says so")]

mod air_to_water;
#[path = "../model/chains.rs"]
mod chains;
mod gap_filling;
#[path = "../model/hierarchy.rs"]
mod hierarchy;
mod hours_of_a_day;
mod hubbard;
mod import;
#[path = "../ingest/local_server.rs"]
#[allow(dead_code, reason = "other tests use the rest")]
mod local_server;
mod quality;
mod real_tables;
mod responses;
mod shared;
mod support;
mod water_ahead;
mod water_replay;
mod water_with_air;
mod weather_replay;
mod yearly_cycle;
