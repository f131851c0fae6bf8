//! The pure model against independent values.
#![allow(missing_docs, reason = "tests")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

mod day_length;
mod degree_days;
mod golden;
mod likelihoods;
mod rates;
mod recovery;
mod reference;
mod table;
mod temperature;
mod world;
mod world_checks;
