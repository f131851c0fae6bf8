//! How good the service is where the truth is known: clubs simulated apart from the model, in three
//! worlds that it could have been made for and three that break it.
//!
//! `cargo test --release --test worlds -- --nocapture` prints the tables. `SUBIMAGO_WORLD_SEEDS` is
//! the number of seeds (3 unless set); claims about means are tested with 20.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    clippy::type_complexity,
    dead_code,
    reason = "a test stops at the first surprise, says what it measured, and is read once; the world is shared"
)]
#![allow(missing_docs, reason = "tests")]

mod club;
mod combine;
mod lab;
mod plan;
mod report;
#[path = "../model/river.rs"]
mod river;
mod stats;
#[path = "../model/world.rs"]
mod world;
