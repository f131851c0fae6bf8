//! Writes the product's own numbers for comparison with independent libraries.
//!
//! `tests/oracle/run.sh` sets `SUBIMAGO_ORACLE_OUT` to a folder, runs this target, and lets the
//! Python scripts beside it judge every file written there. Without the variable nothing is
//! written, and each test says so. A new comparison is a module here that writes `NAME.csv` and a
//! `check_NAME.py`; `check.py` fails on one without the other.
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

#[path = "../worlds/club.rs"]
#[allow(dead_code, reason = "shared with the worlds, which use more of it")]
mod club;
mod day_length;
mod degree_days;
mod dump;
mod ordinal;
mod rates;
#[path = "../model/river.rs"]
#[allow(dead_code, reason = "shared with the model's tests, which use more of it")]
mod river;
mod scores;
mod told;
#[path = "../model/world.rs"]
#[allow(dead_code, reason = "shared with the model's tests, which use more of it")]
mod world;
