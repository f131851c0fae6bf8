//! Codes, letters and labels of a file put into our words before they are read.

use std::collections::HashMap;
use std::io::{Read, Seek};

use super::columns::{Column, ColumnNames};
use super::table::Table;
use crate::ingest::faults::{Fault, FaultKind, Faults};

/// Most rows of a map.
const MAX_ROWS: u64 = 100_000;

const COLUMN: usize = 0;
const FROM: usize = 1;
const TO: usize = 2;
const COLUMNS: [Column; 3] = [
    Column { name: "column", aliases: &[] },
    Column { name: "from", aliases: &[] },
    Column { name: "to", aliases: &[] },
];

/// What stands in a file, and what it means, by column.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ValueMap(HashMap<String, HashMap<String, String>>);

impl ValueMap {
    /// Reads a file with the columns `column,from,to`. `column` is a name of ours or of the file;
    /// an empty `from` stands for an empty field, an empty `to` empties it.
    ///
    /// # Errors
    /// All [`Faults`] of the file.
    pub fn read(reader: impl Read + Seek) -> Result<Self, Faults> {
        let none = Self::default();
        let mut table = Table::open(reader, &COLUMNS, &ColumnNames::default(), &none, MAX_ROWS)?;
        table.need(&[COLUMN, FROM, TO])?;
        let mut map = Self::default();
        let mut faults = Faults::default();
        let mut raw = csv::StringRecord::new();
        while let Some(row) = table.read(&mut raw) {
            let row = match row {
                Ok(row) => row,
                Err(fault) => {
                    faults.push(fault);
                    continue;
                }
            };
            let Some(column) = row.get(COLUMN) else {
                faults.push(row.fault(COLUMN, FaultKind::MissingValue, "must name a column"));
                continue;
            };
            let (from, to) = (row.get(FROM).unwrap_or_default(), row.get(TO).unwrap_or_default());
            let known = map.0.entry(column.to_ascii_lowercase()).or_default();
            if let Some(before) = known.insert(from.to_owned(), to.to_owned())
                && before != to
            {
                let reason = format!("{from:?} was given another meaning before, {before:?}");
                faults.push(row.fault(TO, FaultKind::Conflict, reason));
            }
        }
        if faults.is_empty() { Ok(map) } else { Err(faults) }
    }

    /// What `from` in a column known under `names` means.
    pub(in crate::ingest) fn get(&self, names: [&str; 2], from: &str) -> Option<&str> {
        if self.0.is_empty() {
            return None;
        }
        names.iter().find_map(|name| self.0.get(&name.trim().to_ascii_lowercase())?.get(from)).map(String::as_str)
    }

    /// Faults of columns that a map names and `known` says no to.
    pub(super) fn unknown_columns(&self, known: impl Fn(&str) -> bool) -> Option<Fault> {
        let mut names: Vec<&str> = self.0.keys().map(String::as_str).filter(|name| !known(name)).collect();
        names.sort_unstable();
        let reason = "the map names a column that the file has not";
        (!names.is_empty()).then(|| Fault::new(1, "header", &names.join(","), FaultKind::MissingColumn, reason))
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    #[test]
    fn values_are_mapped_by_column() {
        let text = "column,from,to\nabundance_class,A,sparse\nabundance_class,D,heavy\nSite,Station 1,one\nstage,x,\n";
        let map = ValueMap::read(Cursor::new(text)).expect("understood");
        assert_eq!(map.get(["site", "label"], "Station 1"), Some("one"));
        assert_eq!(map.get(["taxon", "Abundance_Class"], "D"), Some("heavy"));
        assert_eq!(map.get(["stage", "stage"], "x"), Some(""));
        assert_eq!(map.get(["site", "site"], "A"), None);
        assert!(map.unknown_columns(|name| name != "stage").expect("fault").value.contains("stage"));
    }

    #[test]
    fn two_meanings_of_one_value_are_a_fault() {
        let text = "column,from,to\nsite,A,one\nsite,A,two\nsite,A,one,\n";
        let faults = ValueMap::read(Cursor::new(text)).expect_err("faults");
        assert_eq!(faults.kept().iter().map(|f| f.line).collect::<Vec<_>>(), [3, 4]);
    }
}
