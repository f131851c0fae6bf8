//! Command line.

use std::process::ExitCode;

/// Parses the arguments, runs the command, and returns its exit code.
#[must_use]
pub fn run() -> ExitCode {
    ExitCode::SUCCESS
}
