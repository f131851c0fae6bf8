//! Imports through the use cases, on a fresh SQLite file each.
#![allow(missing_docs, reason = "tests")]
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test stops at the first surprise")]

mod memory;
mod readings;
mod records;
mod setup;
mod support;
mod wrong_files;
