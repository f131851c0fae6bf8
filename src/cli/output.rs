//! Writing results, notes and progress.

use std::io::{self, IsTerminal, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};
use serde::Serialize;

use super::failure::Failure;

/// Writes `text` and a line end to standard output.
///
/// A reader that went away (`| head`) is not a failure.
pub(super) fn result(text: &str) -> Result<(), Failure> {
    forgive_closed_pipe(writeln!(io::stdout().lock(), "{text}"))
}

/// Writes bytes to standard output.
pub(super) fn raw(bytes: &[u8]) -> Result<(), Failure> {
    forgive_closed_pipe(io::stdout().lock().write_all(bytes))
}

/// Writes one JSON document to standard output.
pub(super) fn json(document: &impl Serialize) -> Result<(), Failure> {
    let mut text = serde_json::to_vec_pretty(document)?;
    text.push(b'\n');
    raw(&text)
}

fn forgive_closed_pipe(written: io::Result<()>) -> Result<(), Failure> {
    match written {
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => Err(error.into()),
        _ => Ok(()),
    }
}

/// Writes a line to standard error. If that fails there is nobody left to tell.
pub(super) fn note(text: &str) {
    let _ = writeln!(io::stderr().lock(), "{text}");
}

/// Progress of long work: a bar on a terminal, plain lines elsewhere.
#[derive(Debug, Clone)]
pub(super) struct Progress {
    bar: Option<ProgressBar>,
    /// Tenths of the rows that a line has told of.
    tenths: Arc<AtomicU64>,
}

impl Progress {
    /// Starts work on things whose number is not known yet.
    pub(super) fn start(what: &str) -> Self {
        if !io::stderr().is_terminal() {
            note(&format!("{what} ..."));
            return Self { bar: None, tenths: Arc::default() };
        }
        let style = ProgressStyle::with_template("{spinner} {msg}: {pos} done, {elapsed}")
            .unwrap_or_else(|_| ProgressStyle::default_spinner());
        let bar = ProgressBar::new_spinner().with_style(style).with_message(what.to_owned());
        bar.enable_steady_tick(Duration::from_millis(200));
        Self { bar: Some(bar), tenths: Arc::default() }
    }

    /// So many of `total` rows are done. Elsewhere than on a terminal every tenth of them is a line.
    pub(super) fn at(&self, done: u64, total: u64) {
        if let Some(bar) = &self.bar {
            if bar.length() != Some(total) {
                let style = ProgressStyle::with_template("{msg}: {bar:30} {pos} of {len}, {elapsed}")
                    .unwrap_or_else(|_| ProgressStyle::default_bar());
                bar.set_length(total);
                bar.set_style(style);
            }
            bar.set_position(done);
        } else {
            let tenths = (10 * done).checked_div(total).unwrap_or(0);
            if self.tenths.fetch_max(tenths, Ordering::Relaxed) < tenths {
                note(&format!("{done} of {total}"));
            }
        }
    }

    /// So much is done, of what nobody knows how much there is; told on a terminal alone.
    pub(super) fn so_far(&self, done: u64) {
        if let Some(bar) = &self.bar {
            bar.set_position(done);
        }
    }

    /// One thing is done; `line` tells about it and stays on the screen.
    pub(super) fn step(&self, line: &str) {
        match &self.bar {
            Some(bar) => {
                bar.suspend(|| note(line));
                bar.inc(1);
            }
            None => note(line),
        }
    }

    /// Ends the work.
    pub(super) fn finish(&self) {
        if let Some(bar) = &self.bar {
            bar.finish_and_clear();
        }
    }
}
