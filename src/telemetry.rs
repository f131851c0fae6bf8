//! Logs: events of `tracing` on standard error, for people or for machines. Standard output is left
//! to results.

use std::io::IsTerminal;

use crate::config::{LogFormat, LogSettings};

/// Starts logging for the whole process. `no_colour` is the wish of the environment; without a
/// terminal there is no colour either.
///
/// # Errors
/// When the filter is malformed or logging was started before.
pub fn start(settings: &LogSettings, no_colour: bool) -> Result<(), String> {
    let builder = tracing_subscriber::fmt()
        .with_env_filter(settings.parsed_filter()?)
        .with_writer(std::io::stderr)
        .with_ansi(!no_colour && std::io::stderr().is_terminal());
    match settings.format {
        LogFormat::Text => builder.with_target(false).try_init(),
        LogFormat::Json => builder.json().flatten_event(true).try_init(),
    }
    .map_err(|e| e.to_string())
}
