//! The rows of a file of the archive, by term.

use std::cell::RefCell;
use std::collections::{HashMap, VecDeque};
use std::io::{self, Read};
use std::rc::Rc;

use super::meta::Described;
use crate::ingest::csv::scan::MAX_ROW_BYTES;
use crate::ingest::faults::{Fault, FaultKind};

/// One row.
pub(super) struct Row<'a> {
    /// Line on which it begins.
    pub(super) line: u64,
    raw: &'a csv::StringRecord,
    file: &'a Described,
    places: &'a HashMap<&'a str, usize>,
}

impl Row<'_> {
    /// The row's identifier, or that of the core's row it belongs to.
    pub(super) fn id(&self) -> &str {
        self.file.id.and_then(|at| self.raw.get(at)).unwrap_or_default().trim()
    }

    /// What it says under `term`; empty where it says nothing.
    pub(super) fn get(&self, term: &str) -> &str {
        let Some(field) = self.places.get(term).map(|at| &self.file.fields[*at]) else { return "" };
        let said = field.index.and_then(|at| self.raw.get(at)).unwrap_or_default().trim();
        if said.is_empty() { field.default.as_deref().unwrap_or_default().trim() } else { said }
    }
}

/// Gives `take` every row of `file`, read from `bytes`.
///
/// # Errors
/// The [`Fault`] that ends the reading, of the file or of `take`.
pub(super) fn each(
    file: &Described,
    bytes: impl Read,
    max_rows: u64,
    mut take: impl FnMut(&Row<'_>) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let lines = Rc::new(RefCell::new(VecDeque::new()));
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(file.delimiter)
        .quoting(file.quote.is_some())
        .quote(file.quote.unwrap_or(b'"'))
        .terminator(csv::Terminator::Any(b'\n'))
        .from_reader(ShortRows {
            inner: bytes,
            quote: file.quote,
            quoted: false,
            line: 1,
            row_line: 1,
            row_bytes: 0,
            lines: Rc::clone(&lines),
        });
    let places: HashMap<&str, usize> =
        file.fields.iter().enumerate().map(|(at, field)| (field.term.as_str(), at)).collect();
    let mut raw = csv::StringRecord::new();
    let mut rows = 0_u64;
    while reader.read_record(&mut raw).map_err(|error| unreadable(file, &error))? {
        let line = lines.borrow_mut().pop_front().unwrap_or(1);
        if raw.len() == 1 && raw[0].trim().is_empty() {
            continue;
        }
        rows += 1;
        if rows <= file.header_rows {
            continue;
        }
        if rows - file.header_rows > max_rows {
            let reason = format!("the file has too many rows; up to {max_rows} are taken");
            return Err(Fault::new(line, &file.file, "", FaultKind::TooLarge, reason));
        }
        take(&Row { line, raw: &raw, file, places: &places })?;
    }
    Ok(())
}

fn unreadable(file: &Described, error: &csv::Error) -> Fault {
    let line = error.position().map_or(1, csv::Position::line);
    let (kind, reason) = match error.kind() {
        csv::ErrorKind::Utf8 { .. } => (FaultKind::NotUtf8, "the text is not UTF-8".to_owned()),
        csv::ErrorKind::Io(inner) if inner.kind() == io::ErrorKind::FileTooLarge => {
            (FaultKind::TooLarge, inner.to_string())
        }
        csv::ErrorKind::Io(inner) => (FaultKind::Unreadable, format!("cannot be unpacked: {inner}")),
        _ => (FaultKind::Syntax, error.to_string()),
    };
    Fault::new(line, &file.file, "", kind, reason)
}

/// Refuses rows longer than any honest one, before they are held in memory, and notes the line on which each row
/// begins that holds more than a line feed: these are the rows that are read.
struct ShortRows<R> {
    inner: R,
    quote: Option<u8>,
    quoted: bool,
    line: u64,
    row_line: u64,
    row_bytes: u64,
    lines: Rc<RefCell<VecDeque<u64>>>,
}

impl<R: Read> Read for ShortRows<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        for byte in &buffer[..read] {
            self.row_bytes += 1;
            self.line += u64::from(*byte == b'\n');
            // A doubled quote ends and begins the quoting: that comes to the same.
            if Some(*byte) == self.quote {
                self.quoted = !self.quoted;
            } else if *byte == b'\n' && !self.quoted {
                self.row_ends(1);
            }
            if self.row_bytes > MAX_ROW_BYTES {
                let reason = "a row is longer than 64 KiB, or a quote is never closed";
                return Err(io::Error::new(io::ErrorKind::FileTooLarge, reason));
            }
        }
        if read == 0 {
            // The last row may lack its line end.
            self.row_ends(0);
        }
        Ok(read)
    }
}

impl<R> ShortRows<R> {
    fn row_ends(&mut self, empty_bytes: u64) {
        if self.row_bytes > empty_bytes {
            self.lines.borrow_mut().push_back(self.row_line);
        }
        (self.row_line, self.row_bytes) = (self.line, 0);
    }
}
