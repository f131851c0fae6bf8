//! A file being written, with its progress.

use std::io::{self, Seek, SeekFrom, Write};

use super::output::Progress;

/// Tells a [`Progress`] how many lines went through, or bytes of what has none.
pub(super) struct Counted<W> {
    inner: W,
    lines: bool,
    count: u64,
    progress: Progress,
}

impl<W> Counted<W> {
    /// Counts the rows of a table.
    pub(super) fn rows(inner: W, what: &str) -> Self {
        Self { inner, lines: true, count: 0, progress: Progress::start(what) }
    }

    /// Counts bytes.
    pub(super) fn bytes(inner: W, what: &str) -> Self {
        Self { inner, lines: false, count: 0, progress: Progress::start(what) }
    }

    /// What was written to.
    pub(super) fn done(self) -> W {
        self.progress.finish();
        self.inner
    }
}

impl<W: Write> Write for Counted<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.inner.write(bytes)?;
        let lines = || bytes[..written].split(|byte| *byte == b'\n').count() - 1;
        self.count += if self.lines { lines() } else { written } as u64;
        self.progress.so_far(self.count);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.inner.flush()
    }
}

impl<W: Seek> Seek for Counted<W> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.inner.seek(to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_bytes_are_counted_and_all_goes_through() {
        let mut table = Counted::rows(Vec::new(), "rows");
        table.write_all(b"a,b\n1,2\n3").expect("writes");
        assert_eq!((table.count, table.done()), (2, b"a,b\n1,2\n3".to_vec()));
        let mut archive = Counted::bytes(io::Cursor::new(Vec::new()), "bytes");
        archive.write_all(b"a\nb").expect("writes");
        archive.seek(SeekFrom::Start(0)).expect("seeks");
        archive.write_all(b"c").expect("writes");
        assert_eq!((archive.count, archive.done().into_inner()), (4, b"c\nb".to_vec()));
    }
}
