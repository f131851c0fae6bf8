//! Readings and records as comma-separated values (RFC 4180 with a header row).
//!
//! A file is read several times and never held: [`scan`](scan::MAX_BYTES) refuses what cannot be a
//! file of the form; a check reads all rows, finds their faults, and keeps of each only enough to
//! know it again; and only when the file is to be taken are its rows given out, one by one.

pub mod columns;
mod fahrenheit;
pub mod guard;
mod passes;
pub mod readings;
mod record_row;
pub mod records;
mod repeats;
mod row_lines;
pub mod scan;
mod table;
pub mod value_map;
mod values;
mod visits;

pub use passes::Checked;
