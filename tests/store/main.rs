//! The contract of the store, held on SQLite and on PostgreSQL by the same test functions.
//!
//! `SUBIMAGO_TEST_POSTGRES` names a PostgreSQL server whose role may create databases, for example
//! `postgres://postgres@127.0.0.1:5544/postgres`; every test gets a database of its own there.
//! Without it the PostgreSQL half says that it did not run, and with `CI=true` it fails.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    clippy::type_complexity,
    clippy::cloned_ref_to_slice_refs,
    reason = "a test stops at the first surprise, says what it measured, and is read once"
)]

mod support;

mod database;
mod erase;
mod feed;
mod fit;
mod forecast;
mod idempotency;
mod job;
mod maintenance;
mod notice;
mod place;
mod reading;
mod record;
mod report;
mod report_list;
mod schema;
mod skill;
mod sync;
mod taxon;
mod token;
