//! Readings and records as comma-separated values (RFC 4180 with a header row).
//!
//! A file is read twice: [`scan`](scan::MAX_BYTES) refuses what cannot be a file of the form without
//! keeping anything, then the rows are read one by one.

pub mod columns;
pub mod readings;
mod record_row;
pub mod records;
mod repeats;
pub mod scan;
mod table;
pub mod value_map;
mod values;

use super::Faults;

/// A parsed file.
#[derive(Debug, Clone)]
pub struct Parsed<T> {
    /// The good rows in order of line, each with its line; repeats are left out.
    pub rows: Vec<(u32, T)>,
    /// Rows in the file, header not counted.
    pub total: u64,
    /// Rows that say again what an earlier one of the same file says.
    pub repeated: u64,
    /// Rows that cannot be used.
    pub rejected: u64,
    /// Columns of the file that mean nothing here and were ignored.
    pub unknown_columns: Vec<String>,
    /// What is wrong.
    pub faults: Faults,
}

impl<T> Parsed<T> {
    fn refused(faults: Faults) -> Self {
        Self { rows: Vec::new(), total: 0, repeated: 0, rejected: 0, unknown_columns: Vec::new(), faults }
    }
}
