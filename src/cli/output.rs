//! Writing results, notes and progress.

use std::io::{self, IsTerminal, Write};
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
}

impl Progress {
    /// Starts work on things whose number is not known yet.
    pub(super) fn start(what: &str) -> Self {
        if !io::stderr().is_terminal() {
            note(&format!("{what} ..."));
            return Self { bar: None };
        }
        let style = ProgressStyle::with_template("{spinner} {msg}: {pos} done, {elapsed}")
            .unwrap_or_else(|_| ProgressStyle::default_spinner());
        let bar = ProgressBar::new_spinner().with_style(style).with_message(what.to_owned());
        bar.enable_steady_tick(Duration::from_millis(200));
        Self { bar: Some(bar) }
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
