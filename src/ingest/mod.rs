//! Outside bytes to domain values.
//!
//! Parsers are pure functions of a reader and of what is already known (reaches, gauges, taxa, the
//! time zone, the time of day). Each collects every fault of a file instead of stopping at the first.
//! [`client`] alone fetches.

pub mod archive;
pub mod client;
pub mod csv;
pub mod faults;
pub mod foreign;
pub mod photo;
pub mod seed_taxa;
pub mod setup;
mod setup_looks;
mod setup_table;
mod setup_taxon;
pub mod temperature;
pub mod weather;

pub use faults::{Fault, FaultKind, Faults};
