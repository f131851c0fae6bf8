//! Files in other people's forms: what a file seems to be, and, once a keeper has confirmed that, the same
//! rows in our own form ([`super::csv::readings`]).
//!
//! Nothing is guessed silently: recognising tells what was seen and what has to be said; converting takes
//! only what was said.

pub mod logger;
mod style;
pub mod usgs_file;

pub use style::{DateStyle, Scale, Zone};

/// What a file seems to be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Seems {
    /// An export of a temperature logger.
    Logger(logger::Layout),
    /// JSON of the older services of USGS.
    UsgsJson,
    /// A table of the older services of USGS.
    UsgsTable,
}

/// Recognises a file that is not of our own form; `None` when it is none that is known.
#[must_use]
pub fn recognise(bytes: &[u8]) -> Option<Seems> {
    let head = String::from_utf8_lossy(&bytes[..bytes.len().min(64 * 1024)]);
    if head.trim_start().starts_with('{') && head.contains("\"timeSeries\"") {
        return Some(Seems::UsgsJson);
    }
    if head.lines().any(|line| line.starts_with("agency_cd\tsite_no\t")) {
        return Some(Seems::UsgsTable);
    }
    logger::Layout::of(bytes).map(Seems::Logger)
}

/// The rows of a file in our own form.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Converted {
    /// Readings as comma-separated values. Of a logger each row stands on the line of the original.
    pub csv: String,
    /// What there is to say.
    pub notes: Vec<String>,
}
