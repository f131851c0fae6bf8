//! Imports through the use cases, on a fresh SQLite file each.
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

mod answers;
mod archives;
mod broken_bodies;
mod broken_rows;
mod doubts;
mod fake_services;
mod fetching;
mod foreign_files;
mod generated;
mod local_server;
mod memory;
mod passes;
mod quantities;
mod readings;
mod records;
mod resyncing;
mod setup;
mod support;
mod syncing;
mod weather;
mod where_to;
mod wrong_files;
