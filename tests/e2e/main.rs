//! The whole service on the invented club: what must happen to a forecast when the data change in a
//! known way.
#![allow(missing_docs, reason = "tests")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

mod club;
mod metamorphic;
mod reports;
