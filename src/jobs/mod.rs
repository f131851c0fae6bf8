//! Runner of long work: claims jobs from the table, runs them, keeps their leases alive.

mod runner;

pub use runner::{Notify, Runner};
