//! What the passes over a file of either form have in common.

use std::io::{Read, Seek};

use super::repeats::Settled;
use super::table::Table;
use super::values::Fields;
use crate::ingest::faults::{Fault, FaultKind, Faults};

/// A file that was checked. None of its rows is here.
#[derive(Debug, Clone, Default)]
pub struct Checked {
    /// Rows in the file, header not counted.
    pub total: u64,
    /// Rows that say again what an earlier one of the same file says, or nothing.
    pub repeated: u64,
    /// Rows that cannot be used.
    pub rejected: u64,
    /// Columns of the file that mean nothing here and were ignored.
    pub unknown_columns: Vec<String>,
    /// What is wrong.
    pub faults: Faults,
    /// Lines of rows that are well formed and yet must not be used, in order.
    left_out: Vec<u32>,
    /// Sum of the marks of the rows that are to be used.
    sum: u64,
}

impl Checked {
    /// A file whose header is understood but for some columns.
    pub(super) fn begun(unknown_columns: Vec<String>) -> Self {
        Self { unknown_columns, ..Self::default() }
    }

    /// A file that cannot be used at all.
    pub(super) fn refused(faults: Faults) -> Self {
        Self { faults, ..Self::default() }
    }

    /// Takes in what came of rows with the same key.
    pub(super) fn settle(&mut self, settled: Settled) {
        self.repeated += settled.repeated;
        self.rejected += settled.rejected;
        (self.left_out, self.sum) = (settled.left_out, settled.sum);
    }

    /// Reads every row of `table`, or until `take`, which is given the good ones with their lines, says no.
    pub(super) fn count<R: Read + Seek, T>(
        &mut self,
        table: &mut Table<'_, R>,
        read: impl Fn(&mut Fields<'_>) -> Option<T>,
        mut take: impl FnMut(u32, T) -> bool,
    ) {
        each_row(table, read, |row| {
            self.total += 1;
            match row {
                Ok(Some((line, row))) => return take(line, row),
                Ok(None) => self.repeated += 1,
                Err(faults) => {
                    self.rejected += 1;
                    for fault in faults {
                        self.faults.push(fault);
                    }
                }
            }
            true
        });
    }

    /// Reads the rows of `table` again and gives `take` those that are to be used, until it says no.
    ///
    /// # Errors
    /// A [`Fault`] when they are not those that were checked; the file was then changed meanwhile,
    /// and what was given must not be used.
    pub(super) fn give<R: Read + Seek, T>(
        &self,
        table: &mut Table<'_, R>,
        read: impl Fn(&mut Fields<'_>) -> Option<T>,
        mark: impl Fn(&T) -> u64,
        mut take: impl FnMut(T) -> bool,
    ) -> Result<(), Fault> {
        let (mut given, mut sum, mut stopped) = (0_u64, 0_u64, false);
        each_row(table, read, |row| {
            if let Ok(Some((line, row))) = row
                && self.left_out.binary_search(&line).is_err()
            {
                given += 1;
                sum = sum.wrapping_add(mark(&row));
                stopped = !take(row);
            }
            !stopped
        });
        let checked = self.total - self.repeated - self.rejected;
        if stopped || (given, sum) == (checked, self.sum) { Ok(()) } else { Err(changed()) }
    }
}

/// The fault of a file that changed between two passes.
pub(super) fn changed() -> Fault {
    Fault::new(1, "file", "", FaultKind::Unreadable, "the file did not read the same twice; import it again")
}

/// Reads the rows of `table` until `take` says no. `read` gives `None` without a fault for a row that says nothing.
fn each_row<R: Read + Seek, T>(
    table: &mut Table<'_, R>,
    read: impl Fn(&mut Fields<'_>) -> Option<T>,
    mut take: impl FnMut(Result<Option<(u32, T)>, Vec<Fault>>) -> bool,
) {
    let mut raw = csv::StringRecord::new();
    while let Some(row) = table.read(&mut raw) {
        let row = row.map_err(|fault| vec![fault]).and_then(|row| {
            let mut fields = Fields::new(row);
            let read = read(&mut fields);
            if fields.faults.is_empty() { Ok(read.map(|read| (fields.row.line, read))) } else { Err(fields.faults) }
        });
        if !take(row) {
            return;
        }
    }
}
