//! A first pass over a file that keeps nothing: is it UTF-8, of bearable size, with closed quotes?
//!
//! The second pass may then trust the text, and a file that is refused here has cost no memory.

use std::io::{Read, Seek, SeekFrom};

use super::row_lines::RowLines;
use crate::ingest::faults::{Fault, FaultKind};

/// Largest file, bytes: 50 MiB.
pub const MAX_BYTES: u64 = 50 * 1024 * 1024;
/// Longest row, bytes.
pub const MAX_ROW_BYTES: u64 = 64 * 1024;

/// What the pass found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Scan {
    /// Line on which each row begins that holds more than a line feed, from 1.
    pub(super) row_lines: RowLines,
    /// Where the text begins.
    begin: u64,
    /// Bytes of the file.
    length: u64,
}

impl Scan {
    /// Puts a file that was scanned before at its first row again; false when it is no longer as long as it was.
    pub(super) fn rewind(&self, reader: &mut impl Seek) -> std::io::Result<bool> {
        let length = reader.seek(SeekFrom::End(0))?;
        reader.seek(SeekFrom::Start(self.begin))?;
        Ok(length == self.length)
    }
}

/// Where in the quoting of a field the pass stands (RFC 4180).
#[derive(Clone, Copy, PartialEq, Eq)]
enum At {
    FieldStart,
    Bare,
    Quoted,
    QuoteInQuoted,
}

struct Pass {
    line: u64,
    row_line: u64,
    row_bytes: u64,
    row_lines: RowLines,
    field: usize,
    at: At,
    header: Vec<u8>,
    /// True until the first row with something in it has ended.
    in_header: bool,
}

/// Reads all of `reader` and rewinds it.
///
/// # Errors
/// The first [`Fault`] that makes the file as a whole unusable.
pub(super) fn scan(reader: &mut (impl Read + Seek), max_rows: u64) -> Result<Scan, Fault> {
    let unreadable = |error: std::io::Error| {
        Fault::new(1, "file", "", FaultKind::Unreadable, format!("the file cannot be read: {error}"))
    };
    let length = reader.seek(SeekFrom::End(0)).map_err(unreadable)?;
    if length > MAX_BYTES {
        return Err(too_large(&format!("{} MiB", length / 1024 / 1024)));
    }
    reader.seek(SeekFrom::Start(0)).map_err(unreadable)?;
    let mut pass = Pass {
        line: 1,
        row_line: 1,
        row_bytes: 0,
        row_lines: RowLines::default(),
        field: 0,
        at: At::FieldStart,
        header: Vec::new(),
        in_header: true,
    };
    let mut buffer = vec![0_u8; 64 * 1024];
    let (mut carried, mut total, mut bom_bytes) = (0, 0_u64, 0);
    loop {
        let read = reader.read(&mut buffer[carried..]).map_err(unreadable)?;
        let filled = carried + read;
        let first_chunk = total == 0;
        total += read as u64;
        if total > MAX_BYTES {
            return Err(too_large("more"));
        }
        let mut start = 0;
        if first_chunk && let [b'\xef', b'\xbb', b'\xbf', ..] = buffer[..filled] {
            (start, bom_bytes) = (3, 3);
        } else if first_chunk && matches!(buffer[..filled], [0xff, 0xfe, ..] | [0xfe, 0xff, ..]) {
            let reason = "the file is UTF-16 text; save it as UTF-8";
            return Err(Fault::new(1, "file", "", FaultKind::NotUtf8, reason));
        }
        let (valid, rest, broken) = match std::str::from_utf8(&buffer[start..filled]) {
            Ok(_) => (filled, filled, false),
            Err(error) => {
                let good = start + error.valid_up_to();
                (good, good, error.error_len().is_some() || read == 0)
            }
        };
        pass.bytes(&buffer[start..valid], max_rows)?;
        if broken {
            return Err(pass.not_utf8(buffer[valid]));
        }
        buffer.copy_within(rest..filled, 0);
        carried = filled - rest;
        if read == 0 {
            break;
        }
    }
    pass.end(bom_bytes, max_rows)?;
    reader.seek(SeekFrom::Start(bom_bytes)).map_err(unreadable)?;
    Ok(Scan { row_lines: pass.row_lines, begin: bom_bytes, length: total })
}

fn too_large(found: &str) -> Fault {
    let reason = format!(
        "the file is too large: an import takes up to {} MiB; split it by year or gauge",
        MAX_BYTES / 1024 / 1024
    );
    Fault::new(1, "file", found, FaultKind::TooLarge, reason)
}

impl Pass {
    fn bytes(&mut self, bytes: &[u8], max_rows: u64) -> Result<(), Fault> {
        for byte in bytes {
            self.row_bytes += 1;
            if self.in_header && self.header.len() < MAX_ROW_BYTES as usize {
                self.header.push(*byte);
                self.in_header = *byte != b'\n' || self.header.iter().all(u8::is_ascii_whitespace);
            }
            if self.row_bytes > MAX_ROW_BYTES {
                let reason = if matches!(self.at, At::Quoted) {
                    "a quote opened in this row is never closed"
                } else {
                    "the row is longer than 64 KiB"
                };
                return Err(Fault::new(self.row_line, &self.column(), "", FaultKind::TooLong, reason));
            }
            self.at = match (self.at, byte) {
                (At::Quoted, b'"') => At::QuoteInQuoted,
                (At::QuoteInQuoted | At::FieldStart, b'"') | (At::Quoted, _) => At::Quoted,
                (_, b',') => {
                    self.field += 1;
                    At::FieldStart
                }
                (_, b'\n') => At::FieldStart,
                _ => At::Bare,
            };
            if *byte == b'\n' {
                self.line += 1;
                if self.at != At::Quoted {
                    self.row_ends(max_rows)?;
                }
            }
        }
        Ok(())
    }

    fn row_ends(&mut self, max_rows: u64) -> Result<(), Fault> {
        if self.row_bytes > 1 {
            self.row_lines.push(u32::try_from(self.row_line).unwrap_or(u32::MAX));
        }
        if self.row_lines.len() > max_rows + 1 {
            let reason = format!("the file is too large: an import takes up to {max_rows} rows; split it");
            return Err(Fault::new(self.row_line, "file", "", FaultKind::TooLarge, reason));
        }
        (self.row_line, self.row_bytes, self.field) = (self.line, 0, 0);
        Ok(())
    }

    fn end(&mut self, bom_bytes: u64, max_rows: u64) -> Result<(), Fault> {
        if self.at == At::Quoted {
            let reason = "a quote opened in this row is never closed";
            return Err(Fault::new(self.row_line, &self.column(), "", FaultKind::TooLong, reason));
        }
        if self.header.iter().all(u8::is_ascii_whitespace) {
            let what = if bom_bytes == 0 { "the file is empty" } else { "the file is empty but for a byte-order mark" };
            let reason = format!("{what}; it needs a header row");
            return Err(Fault::new(1, "file", "", FaultKind::Empty, reason));
        }
        if self.row_bytes > 0 {
            // The last row may lack its line end.
            self.row_bytes += 1;
            self.row_ends(max_rows)?;
        }
        Ok(())
    }

    fn not_utf8(&self, byte: u8) -> Fault {
        let reason = "the text is not UTF-8 from here on; save the file as UTF-8";
        Fault::new(self.line, &self.column(), &format!("byte 0x{byte:02X}"), FaultKind::NotUtf8, reason)
    }

    /// The header of the field the pass stands in.
    fn column(&self) -> String {
        if self.in_header {
            return "header".to_owned();
        }
        let header = String::from_utf8_lossy(&self.header);
        let name = header.trim().split(',').nth(self.field).map(|name| name.trim_matches(['"', ' ']).to_owned());
        name.filter(|name| !name.is_empty()).unwrap_or_else(|| format!("number {}", self.field + 1))
    }
}

#[cfg(test)]
mod tests {
    use std::io::Cursor;

    use super::*;

    fn lines(file: &mut Cursor<&[u8]>) -> Result<Vec<u32>, Fault> {
        scan(file, 10).map(|scan| scan.row_lines.into_iter().collect())
    }

    fn fault(bytes: &[u8]) -> Fault {
        scan(&mut Cursor::new(bytes), 10).expect_err("a fault")
    }

    #[test]
    fn byte_order_marks_are_stepped_over_and_rows_are_found_by_line() {
        let mut file = Cursor::new(&b"\xef\xbb\xbfa,b\n1,2\n\n3,\"4\n\"\r\n\r\n5,6"[..]);
        assert_eq!(lines(&mut file), Ok(vec![1, 2, 4, 6, 7]));
        assert_eq!(file.position(), 3);
        let mut file = Cursor::new(&b"a,b\n1,2"[..]);
        assert_eq!(lines(&mut file), Ok(vec![1, 2]));
        assert_eq!(file.position(), 0);
    }

    #[test]
    fn faulty_bytes_are_named_by_line_and_column() {
        let found = fault(b"site,date\nW1,2019\nW\xe9,2020\n");
        assert_eq!((found.line, found.column.as_str(), found.kind), (3, "site", FaultKind::NotUtf8));
        assert_eq!(fault(b"a,b\n1,\xc3").line, 2);
        assert_eq!(fault(b"\xff\xfea\0").kind, FaultKind::NotUtf8);
    }

    #[test]
    fn letters_on_the_edge_of_a_chunk_are_whole() {
        let text = format!("a\n{}\u{e9}\n", "x".repeat(60)).repeat(4000);
        assert!(scan(&mut Cursor::new(text.as_bytes()), 10_000).is_ok());
    }

    /// A file that grows after its length was taken.
    struct Growing(std::io::Take<std::io::Repeat>);

    impl Read for Growing {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            let read = self.0.read(buffer)?;
            buffer[..read].iter_mut().step_by(1000).for_each(|byte| *byte = b'\n');
            Ok(read)
        }
    }

    impl Seek for Growing {
        fn seek(&mut self, _: SeekFrom) -> std::io::Result<u64> {
            Ok(0)
        }
    }

    #[test]
    fn files_that_grow_too_large_while_they_are_read_are_refused() {
        let scan = |bytes| {
            let mut file = Growing(std::io::repeat(b'a').take(bytes));
            scan(&mut file, u64::MAX - 1).map(|scan| scan.row_lines.len())
        };
        let found = scan(MAX_BYTES + 1).expect_err("a fault");
        assert_eq!((found.kind, found.value.as_str()), (FaultKind::TooLarge, "more"));
        assert!(scan(MAX_BYTES).is_ok());
    }

    #[test]
    fn empty_files_open_quotes_and_too_many_rows_are_refused() {
        assert_eq!(fault(b"").kind, FaultKind::Empty);
        assert_eq!(fault(b"\xef\xbb\xbf\r\n\r\n").kind, FaultKind::Empty);
        let open = fault(b"a,b\n1,2\n3,\"4\n5,6\n");
        assert_eq!((open.line, open.column.as_str(), open.kind), (3, "b", FaultKind::TooLong));
        assert_eq!(fault("a\n".repeat(12).as_bytes()).kind, FaultKind::TooLarge);
        assert!(scan(&mut Cursor::new("a\n".repeat(11)), 10).is_ok());
        assert_eq!(fault("a".repeat(70_000).as_bytes()).kind, FaultKind::TooLong);
    }

    #[test]
    fn quotes_may_hold_commas_and_line_ends() {
        assert!(scan(&mut Cursor::new("a,b\n\"x,\n\"\"y\"\"\n\",2\n"), 10).is_ok());
        assert!(scan(&mut Cursor::new("a,b\n5\" pipe,2\n"), 10).is_ok());
    }
}
