//! Rows of a file by our column names.

use std::io::{Read, Seek};

use csv::StringRecord;

use super::columns::{Column, ColumnNames, Header};
use super::guard::unguarded;
use super::row_lines::Lines;
use super::scan::{Scan, scan};
use super::value_map::ValueMap;
use crate::ingest::faults::{Fault, FaultKind, Faults};

/// Longest field, bytes.
pub(super) const MAX_FIELD_BYTES: usize = 4096;
/// Most columns.
const MAX_COLUMNS: usize = 512;

/// An open file with its header understood.
pub(super) struct Table<'m, R> {
    reader: csv::Reader<R>,
    row_lines: Lines,
    columns: &'m [Column],
    header: Header,
    header_line: u64,
    values: &'m ValueMap,
}

/// One row.
pub(super) struct Row<'t> {
    /// Line on which it begins.
    pub(super) line: u32,
    raw: &'t StringRecord,
    columns: &'t [Column],
    header: &'t Header,
    values: &'t ValueMap,
}

impl<'m, R: Read + Seek> Table<'m, R> {
    /// Scans `reader` and reads its header.
    ///
    /// # Errors
    /// The [`Faults`] that make the file unusable.
    pub(super) fn open(
        mut reader: R,
        columns: &'m [Column],
        names: &ColumnNames,
        values: &'m ValueMap,
        max_rows: u64,
    ) -> Result<Self, Faults> {
        let scan = scan(&mut reader, max_rows)?;
        Self::open_scanned(reader, &scan, columns, names, values)
    }

    /// As [`Self::open`] for a file that `scan` was made of and that stands at its first row.
    ///
    /// # Errors
    /// As there.
    pub(super) fn open_scanned(
        reader: R,
        scan: &Scan,
        columns: &'m [Column],
        names: &ColumnNames,
        values: &'m ValueMap,
    ) -> Result<Self, Faults> {
        // The line feed alone ends a row, as in the scan; a carriage return before it is trimmed.
        let reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .terminator(csv::Terminator::Any(b'\n'))
            .from_reader(reader);
        let mut table = Self {
            reader,
            row_lines: scan.row_lines.clone().into_iter(),
            columns,
            header: Header { names: Vec::new(), places: Vec::new() },
            header_line: 1,
            values,
        };
        let mut raw = StringRecord::new();
        let line = table.advance(&mut raw)?.unwrap_or(1);
        table.header_line = u64::from(line);
        if raw.len() > MAX_COLUMNS {
            let reason = format!("the header has more than {MAX_COLUMNS} columns");
            return Err(Fault::new(table.header_line, "header", "", FaultKind::TooLong, reason).into());
        }
        let found = raw.iter().map(|name| name.trim().to_owned()).collect();
        table.header = Header::read(found, columns, names, table.header_line)?;
        let named = |name: &str| {
            columns.iter().any(|column| column.is(name))
                || table.header.names.iter().any(|known| known.eq_ignore_ascii_case(name))
        };
        match values.unknown_columns(named) {
            Some(fault) => Err(fault.into()),
            None => Ok(table),
        }
    }

    /// Checks that the columns at `places` of our list are there.
    ///
    /// # Errors
    /// A fault for each that is missing.
    pub(super) fn need(&self, places: &[usize]) -> Result<(), Faults> {
        let mut faults = Faults::default();
        for at in places.iter().filter(|at| !self.has(**at)) {
            faults.push(self.header.missing(&self.columns[*at], self.header_line));
        }
        if faults.is_empty() { Ok(()) } else { Err(faults) }
    }

    /// True when the file has our column `at`.
    pub(super) fn has(&self, at: usize) -> bool {
        self.header.places[at].is_some()
    }

    /// The file's name of our column `at`.
    pub(super) fn name(&self, at: usize) -> Option<&str> {
        self.header.places[at].map(|place| self.header.names[place].as_str())
    }

    /// Columns of the file that are none of ours.
    pub(super) fn unknown_columns(&self) -> Vec<String> {
        self.header.unknown().filter(|name| !name.is_empty()).map(str::to_owned).collect()
    }

    /// Most rows that are still to be read.
    pub(super) fn rows_left(&self) -> usize {
        self.row_lines.left()
    }

    /// A fault of the header.
    pub(super) fn header_fault(&self, value: &str, kind: FaultKind, reason: impl Into<String>) -> Fault {
        Fault::new(self.header_line, "header", value, kind, reason)
    }

    /// The next row that is not blank, read into `raw`.
    pub(super) fn read<'t>(&'t mut self, raw: &'t mut StringRecord) -> Option<Result<Row<'t>, Fault>> {
        let line = match self.advance(raw) {
            Ok(line) => line?,
            Err(fault) => return Some(Err(fault)),
        };
        let row = Row { line, raw, columns: self.columns, header: &self.header, values: self.values };
        if row.raw.len() != self.header.names.len() {
            let reason = format!("the row has {} fields, the header {}", row.raw.len(), self.header.names.len());
            let value = row.raw.iter().collect::<Vec<_>>().join(",");
            let column = if row.raw.len() < self.header.names.len() {
                self.header.names[row.raw.len()].clone()
            } else {
                format!("number {}", self.header.names.len() + 1)
            };
            return Some(Err(Fault::new(u64::from(line), &column, &value, FaultKind::RowShape, reason)));
        }
        if let Some(place) = row.raw.iter().position(|field| field.len() > MAX_FIELD_BYTES) {
            let reason = format!("the field is longer than {MAX_FIELD_BYTES} bytes");
            let column = &self.header.names[place];
            return Some(Err(Fault::new(u64::from(line), column, &row.raw[place], FaultKind::BadValue, reason)));
        }
        Some(Ok(row))
    }

    /// Reads on to the next row with something in it; its line.
    fn advance(&mut self, raw: &mut StringRecord) -> Result<Option<u32>, Fault> {
        loop {
            let more = self.reader.read_record(raw);
            let line = self.row_lines.next();
            let more = more.map_err(|error| {
                let line = u64::from(line.unwrap_or(1));
                Fault::new(line, "file", "", FaultKind::Unreadable, format!("the file cannot be read: {error}"))
            })?;
            if !more {
                return Ok(None);
            }
            if raw.iter().any(|field| !field.trim().is_empty()) || raw.len() > 1 {
                return Ok(Some(line.unwrap_or(1)));
            }
        }
    }
}

impl<'t> Row<'t> {
    /// The value of our column `at`, trimmed, without the guard against formulas, and mapped; `None` when empty or without such a column.
    pub(super) fn get(&self, at: usize) -> Option<&'t str> {
        let place = self.header.places[at]?;
        let field = unguarded(self.raw.get(place)?.trim());
        let mapped = self.values.get([self.columns[at].name, &self.header.names[place]], field);
        Some(mapped.unwrap_or(field).trim()).filter(|value| !value.is_empty())
    }

    /// A fault of our column `at` in this row.
    pub(super) fn fault(&self, at: usize, kind: FaultKind, reason: impl Into<String>) -> Fault {
        let place = self.header.places[at];
        let column = place.map_or(self.columns[at].name, |place| self.header.names[place].as_str());
        let value = place.and_then(|place| self.raw.get(place)).unwrap_or_default();
        Fault::new(u64::from(self.line), column, value, kind, reason)
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    const COLUMNS: [Column; 2] = [Column { name: "a", aliases: &[] }, Column { name: "b", aliases: &[] }];

    fn rows(text: &str) -> Vec<Result<(u32, Option<String>), Fault>> {
        let none = ValueMap::default();
        let mut table = Table::open(Cursor::new(text), &COLUMNS, &ColumnNames::default(), &none, 100).expect("header");
        let mut raw = StringRecord::new();
        let mut found = Vec::new();
        while let Some(row) = table.read(&mut raw) {
            found.push(row.map(|row| (row.line, row.get(1).map(str::to_owned))));
        }
        found
    }

    #[test]
    fn lines_are_counted_through_blanks_quotes_and_both_line_ends() {
        for end in ["\n", "\r\n"] {
            let text = ["\u{feff}", "a,b", "", "1, x ", "  ", "\"2\n2\",\"y\"", "3,", "4,z"].join(end);
            let text = text.replacen(end, "", 1);
            let found: Vec<_> = rows(&text).into_iter().map(|row| row.expect("good")).collect();
            let told: Vec<(u32, Option<&str>)> = found.iter().map(|(line, b)| (*line, b.as_deref())).collect();
            assert_eq!(told, [(3, Some("x")), (5, Some("y")), (7, None), (8, Some("z"))], "{end:?}");
        }
    }

    #[test]
    fn rows_of_another_shape_are_faults_and_reading_goes_on() {
        let found = rows("a,b\n1\n1,2,3\n1,2\n");
        let faults: Vec<&Fault> = found.iter().filter_map(|row| row.as_ref().err()).collect();
        assert_eq!(faults[0].to_string(), "line 2, column b: the row has 1 fields, the header 2 (found \"1\")");
        assert_eq!((faults[1].line, faults[1].column.as_str()), (3, "number 3"));
        assert_eq!(found[2], Ok((4, Some("2".to_owned()))));
    }
}
