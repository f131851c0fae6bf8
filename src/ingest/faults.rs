//! What is wrong with a file: where, what, and why.

use std::fmt;

/// Most faults of one file that are kept; the rest are counted.
pub const FAULTS_KEPT: usize = 1000;
/// Longest part of an offending value that is repeated, characters.
pub const VALUE_MAX: usize = 100;

/// The kind of a fault, for programs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FaultKind {
    /// Nothing in the file.
    Empty,
    /// More bytes or rows than an import takes.
    TooLarge,
    /// Not UTF-8 text.
    NotUtf8,
    /// A field or row longer than any honest one, or a quote that is never closed.
    TooLong,
    /// The file could not be read.
    Unreadable,
    /// Not the syntax of the form.
    Syntax,
    /// A needed column or key is missing.
    MissingColumn,
    /// Two columns of one meaning.
    RepeatedColumn,
    /// The header says degrees Fahrenheit.
    Fahrenheit,
    /// A row with more or fewer fields than the header.
    RowShape,
    /// A needed value is empty.
    MissingValue,
    /// A value that cannot be read or breaks a rule.
    BadValue,
    /// A reach, gauge or taxon that is not known.
    Unknown,
    /// One key with two values in one file.
    Conflict,
}

impl FaultKind {
    /// The word of this kind in documents.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Empty => "empty",
            Self::TooLarge => "too-large",
            Self::NotUtf8 => "not-utf8",
            Self::TooLong => "too-long",
            Self::Unreadable => "unreadable",
            Self::Syntax => "syntax",
            Self::MissingColumn => "missing-column",
            Self::RepeatedColumn => "repeated-column",
            Self::Fahrenheit => "fahrenheit",
            Self::RowShape => "row-shape",
            Self::MissingValue => "missing-value",
            Self::BadValue => "bad-value",
            Self::Unknown => "unknown",
            Self::Conflict => "conflict",
        }
    }

    /// True when the file as a whole cannot be used, not even its other rows.
    #[must_use]
    pub fn is_fatal(self) -> bool {
        matches!(
            self,
            Self::Empty
                | Self::TooLarge
                | Self::NotUtf8
                | Self::TooLong
                | Self::Unreadable
                | Self::Syntax
                | Self::MissingColumn
                | Self::RepeatedColumn
                | Self::Fahrenheit
        )
    }
}

/// One fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Line of the file, from 1.
    pub line: u64,
    /// Column as the file names it, `header` for the header row, `file` for the file as a whole.
    pub column: String,
    /// The offending value, cut to [`VALUE_MAX`] characters, control characters replaced.
    pub value: String,
    /// What is asked for instead.
    pub reason: String,
    /// Its kind.
    pub kind: FaultKind,
}

impl Fault {
    /// A fault; `value` is cut here.
    #[must_use]
    pub fn new(line: u64, column: &str, value: &str, kind: FaultKind, reason: impl Into<String>) -> Self {
        Self { line, column: cut(column), value: cut(value), reason: reason.into(), kind }
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}: {}", self.line, self.column, self.reason)?;
        if self.value.is_empty() { Ok(()) } else { write!(f, " (found {:?})", self.value) }
    }
}

/// The first [`VALUE_MAX`] characters of `text` without control characters.
fn cut(text: &str) -> String {
    let mut short: String = text.chars().take(VALUE_MAX).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.chars().nth(VALUE_MAX).is_some() {
        short.pop();
        short.push('\u{2026}');
    }
    short
}

/// All faults of a file, by line.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Faults {
    kept: Vec<Fault>,
    total: u64,
    fatal: bool,
}

impl Faults {
    /// Adds one. Beyond [`FAULTS_KEPT`] those of the first lines are kept and the others only counted.
    pub fn push(&mut self, fault: Fault) {
        self.total += 1;
        self.fatal |= fault.kind.is_fatal();
        let at = self.kept.partition_point(|kept| kept.line <= fault.line);
        if at < FAULTS_KEPT {
            self.kept.truncate(FAULTS_KEPT - 1);
            self.kept.insert(at, fault);
        }
    }

    /// Takes in those of another pass over the same file.
    pub fn join(&mut self, other: Self) {
        let unlisted = other.total - other.kept.len() as u64;
        self.fatal |= other.fatal;
        other.kept.into_iter().for_each(|fault| self.push(fault));
        self.total += unlisted;
    }

    /// The faults kept, by line.
    #[must_use]
    pub fn kept(&self) -> &[Fault] {
        &self.kept
    }

    /// How many there are in all.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.total
    }

    /// True when the file as a whole cannot be used.
    #[must_use]
    pub fn is_fatal(&self) -> bool {
        self.fatal
    }

    /// True when there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.total == 0
    }
}

impl From<Fault> for Faults {
    fn from(fault: Fault) -> Self {
        let mut faults = Self::default();
        faults.push(fault);
        faults
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_cut_and_cleaned() {
        let fault = Fault::new(3, "tmin_c", &"x\u{7}".repeat(100), FaultKind::BadValue, "must be a number");
        assert_eq!(fault.value.chars().count(), VALUE_MAX);
        assert!(!fault.value.chars().any(char::is_control) && fault.value.ends_with('\u{2026}'));
        let fault = Fault::new(3, "tmin_c", "abc", FaultKind::BadValue, "must be a number");
        assert_eq!(fault.to_string(), "line 3, column tmin_c: must be a number (found \"abc\")");
    }

    #[test]
    fn faults_beyond_the_cap_are_counted() {
        let mut faults = Faults::default();
        for line in (750..1500).rev().chain(0..750) {
            faults.push(Fault::new(line, "a", "", FaultKind::BadValue, "no"));
        }
        assert_eq!((faults.total(), faults.is_fatal()), (1500, false));
        assert!(faults.kept().iter().map(|fault| fault.line).eq(0..1000), "those of the first lines, in order");
    }
}
