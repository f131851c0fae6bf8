//! The files inside an archive. What comes from outside may be made to do harm: no paths, no links, few entries, and
//! never more bytes than an honest archive of that length would hold.

use std::io::{self, Read, Seek, SeekFrom};

use zip::ZipArchive;

use crate::ingest::faults::{Fault, FaultKind};

/// Largest archive, bytes.
pub(super) const MAX_BYTES: u64 = 50 * 1024 * 1024;
/// Most files in it.
pub(super) const MAX_ENTRIES: usize = 100;
/// Most bytes that all its files may unpack to.
pub(super) const MAX_UNPACKED: u64 = 200 * 1024 * 1024;
/// Most bytes that one byte of the archive may unpack to.
pub(super) const MAX_RATIO: u64 = 100;

/// Bytes of the record that ends an archive, without its comment.
const END_BYTES: usize = 22;
/// How that record begins.
const END_MARK: &[u8] = b"PK\x05\x06";
/// How the record begins that leads to a longer count of entries; it stands before the other.
const LONG_MARK: &[u8] = b"PK\x06\x07";
const LONG_BYTES: usize = 20;

/// An archive with harmless entries.
pub(super) struct Unpacked<R> {
    zip: ZipArchive<R>,
    left: u64,
}

/// A fault of the archive as a whole.
pub(super) fn fault(file: &str, value: &str, kind: FaultKind, reason: impl Into<String>) -> Fault {
    Fault::new(1, file, value, kind, reason)
}

impl<R: Read + Seek> Unpacked<R> {
    /// Looks at every entry; unpacks nothing.
    ///
    /// # Errors
    /// The [`Fault`] that makes the archive unusable.
    pub(super) fn open(mut reader: R) -> Result<Self, Fault> {
        let length = check_end(&mut reader)?;
        let mut zip = ZipArchive::new(reader).map_err(|error| no_zip(&error.to_string()))?;
        if zip.len() > MAX_ENTRIES {
            return Err(too_many(zip.len()));
        }
        for at in 0..zip.len() {
            let entry = zip.by_index_raw(at).map_err(|error| no_zip(&error.to_string()))?;
            let name = entry.name().map_err(|error| no_zip(&error.to_string()))?.into_owned();
            let refuse = |reason: &str| Err(fault("file", &name, FaultKind::Syntax, reason));
            if name.contains(['/', '\\', ':', '\0']) || name == ".." || name == "." || name.is_empty() {
                return refuse("an entry has a path; all files must lie side by side in the archive");
            }
            if entry.is_symlink() || entry.is_dir() {
                return refuse("an entry is a link or a folder; an archive holds plain files only");
            }
            if entry.encrypted() {
                return refuse("an entry is encrypted");
            }
        }
        Ok(Self { zip, left: MAX_UNPACKED.min(length.saturating_mul(MAX_RATIO)) })
    }

    /// True when it holds a file of that name.
    pub(super) fn has(&self, name: &str) -> bool {
        self.zip.index_for_name(name).is_some()
    }

    /// The bytes of a file, as they are unpacked.
    ///
    /// # Errors
    /// A [`Fault`] when there is no such file or it cannot be unpacked here.
    pub(super) fn read(&mut self, name: &str) -> Result<impl Read, Fault> {
        let missing =
            || fault("file", name, FaultKind::MissingColumn, "the archive describes this file and does not hold it");
        let at = self.zip.index_for_name(name).ok_or_else(missing)?;
        let entry = self.zip.by_index(at).map_err(|error| no_zip(&error.to_string()))?;
        Ok(Counted { inner: entry, left: &mut self.left })
    }
}

fn no_zip(error: &str) -> Fault {
    fault("file", "", FaultKind::Syntax, format!("the file is no zip archive that can be read: {error}"))
}

fn too_many(found: usize) -> Fault {
    let reason = format!("the archive has too many files; a Darwin Core archive has a few, at most {MAX_ENTRIES}");
    fault("file", &found.to_string(), FaultKind::TooLarge, reason)
}

/// Reads the record at the end of the archive, before memory is taken for as many entries as it claims; the length
/// of the archive.
fn check_end(reader: &mut (impl Read + Seek)) -> Result<u64, Fault> {
    let unreadable =
        |error: io::Error| fault("file", "", FaultKind::Unreadable, format!("the file cannot be read: {error}"));
    let length = reader.seek(SeekFrom::End(0)).map_err(unreadable)?;
    if length > MAX_BYTES {
        let reason = format!("the archive is too large; up to {} MiB are taken", MAX_BYTES / 1024 / 1024);
        return Err(fault("file", &format!("{} MiB", length / 1024 / 1024), FaultKind::TooLarge, reason));
    }
    let tail = length.min((END_BYTES + usize::from(u16::MAX) + LONG_BYTES) as u64);
    reader.seek(SeekFrom::Start(length - tail)).map_err(unreadable)?;
    let mut bytes = Vec::new();
    reader.take(tail).read_to_end(&mut bytes).map_err(unreadable)?;
    reader.seek(SeekFrom::Start(0)).map_err(unreadable)?;
    let word = |at: usize| bytes.get(at..at + 2).map_or(0, |two| usize::from(two[0]) | usize::from(two[1]) << 8);
    let ends = |at: &usize| bytes[*at..].starts_with(END_MARK) && at + END_BYTES + word(at + 20) == bytes.len();
    let last = bytes.len().checked_sub(END_BYTES).ok_or_else(|| no_zip("it is too short"))?;
    let at = (0..=last).rev().find(ends).ok_or_else(|| no_zip("its end is missing"))?;
    let long = at.checked_sub(LONG_BYTES).is_some_and(|before| bytes[before..].starts_with(LONG_MARK));
    if long || word(at + 10) > MAX_ENTRIES {
        return Err(too_many(word(at + 10)));
    }
    Ok(length)
}

/// Counts what is unpacked and stops when it is too much.
struct Counted<'a, R> {
    inner: R,
    left: &'a mut u64,
}

impl<R: Read> Read for Counted<'_, R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        let Some(left) = self.left.checked_sub(read as u64) else {
            let reason = format!(
                "it unpacks to more than {} MiB or {MAX_RATIO} times its length, as no honest archive does",
                MAX_UNPACKED / 1024 / 1024
            );
            return Err(io::Error::new(io::ErrorKind::FileTooLarge, reason));
        };
        *self.left = left;
        Ok(read)
    }
}
