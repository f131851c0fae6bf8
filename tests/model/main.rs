//! The pure model against independent values.
#![allow(missing_docs, reason = "tests")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

mod golden;
mod likelihoods;
mod table;
