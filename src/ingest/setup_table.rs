//! Keys of a TOML table, read with the line on which each stands, collecting faults.

use std::collections::BTreeSet;

use toml::Spanned;
use toml::de::{DeArray, DeTable, DeValue};

use super::faults::{Fault, FaultKind, Faults};
use crate::domain::{Invalid, Slug};

/// Text with its lines, to tell on which line a byte stands.
pub(super) struct Lines(Vec<usize>);

impl Lines {
    pub(super) fn of(text: &str) -> Self {
        Self(text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at).collect())
    }

    /// Line of byte `at`, from 1.
    pub(super) fn line(&self, at: usize) -> u64 {
        self.0.partition_point(|end| *end < at) as u64 + 1
    }
}

/// Reads the keys of one table and remembers which were asked for.
pub(super) struct Keys<'a> {
    table: &'a DeTable<'a>,
    lines: &'a Lines,
    line: u64,
    name: &'static str,
    asked: BTreeSet<&'static str>,
    pub(super) faults: Faults,
}

impl<'a> Keys<'a> {
    /// `name` is that of the table, which begins on `line`.
    pub(super) fn new(table: &'a DeTable<'a>, lines: &'a Lines, line: u64, name: &'static str) -> Self {
        Self { table, lines, line, name, asked: BTreeSet::new(), faults: Faults::default() }
    }

    pub(super) fn value(&mut self, key: &'static str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.asked.insert(key);
        self.table.get(key)
    }

    /// True when the table has this key.
    pub(super) fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Line of a key, or of the table.
    pub(super) fn line_of(&self, key: &str) -> u64 {
        self.table.get(key).map_or(self.line, |value| self.lines.line(value.span().start))
    }

    pub(super) fn fault(&mut self, key: &str, value: &str, kind: FaultKind, reason: impl Into<String>) {
        let column = format!("{}.{key}", self.name);
        self.faults.push(Fault::new(self.line_of(key), &column, value, kind, reason));
    }

    fn bad(&mut self, key: &str, value: &str, reason: impl Into<String>) {
        self.fault(key, value, FaultKind::BadValue, reason);
    }

    /// Text that is not blank, at most `longest` characters.
    pub(super) fn text(&mut self, key: &'static str, longest: usize) -> Option<String> {
        let value = self.value(key)?.get_ref();
        let Some(text) = value.as_str() else {
            self.bad(key, &shown(value), "must be text in quotes");
            return None;
        };
        let text = text.trim();
        if text.is_empty() || text.chars().count() > longest || text.chars().any(char::is_control) {
            self.bad(key, text, format!("must be 1 to {longest} characters on one line"));
            return None;
        }
        Some(text.to_owned())
    }

    /// Text that must be there.
    pub(super) fn need_text(&mut self, key: &'static str, longest: usize) -> Option<String> {
        self.need(key);
        self.text(key, longest)
    }

    /// Notes a fault when the key is missing.
    pub(super) fn need(&mut self, key: &'static str) {
        self.asked.insert(key);
        if !self.has(key) {
            self.fault(key, "", FaultKind::MissingValue, "is missing");
        }
    }

    /// Text read further by `parse`.
    pub(super) fn word<T>(&mut self, key: &'static str, parse: impl FnOnce(&str) -> Result<T, Invalid>) -> Option<T> {
        let text = self.text(key, 200)?;
        match parse(&text) {
            Ok(value) => Some(value),
            Err(invalid) => {
                self.bad(key, &text, invalid.reason);
                None
            }
        }
    }

    /// A slug that must be there.
    pub(super) fn slug(&mut self) -> Option<Slug> {
        self.need("slug");
        self.word("slug", Slug::new)
    }

    /// A number within `low..=high`; whole numbers count as numbers.
    pub(super) fn number(&mut self, key: &'static str, low: f64, high: f64, rule: &str) -> Option<f64> {
        let value = self.value(key)?.get_ref();
        let found = match value {
            DeValue::Integer(whole) => i64::from_str_radix(whole.as_str(), whole.radix()).ok().map(|v| v as f64),
            DeValue::Float(float) => float.as_str().parse::<f64>().ok(),
            _ => None,
        };
        match found {
            Some(number) if (low..=high).contains(&number) => Some(number),
            Some(number) => {
                self.bad(key, &number.to_string(), format!("must be {rule}"));
                None
            }
            None => {
                self.bad(key, &shown(value), "must be a number without quotes");
                None
            }
        }
    }

    /// A whole number within `low..=high`.
    pub(super) fn whole(&mut self, key: &'static str, low: u8, high: u8) -> Option<u8> {
        let rule = format!("a whole number from {low} to {high}");
        let number = self.number(key, f64::from(low), f64::from(high), &rule)?;
        if number.fract() != 0.0 {
            self.bad(key, &number.to_string(), format!("must be {rule}"));
            return None;
        }
        Some(number as u8)
    }

    /// An array; anything else is a fault.
    pub(super) fn array(&mut self, key: &'static str) -> Option<&'a DeArray<'a>> {
        let value = self.value(key)?.get_ref();
        let array = value.as_array();
        if array.is_none() {
            self.bad(key, &shown(value), "must be a list in square brackets");
        }
        array
    }

    /// Two values of which both or neither must be given.
    pub(super) fn both<T>(&mut self, keys: [&'static str; 2], values: [Option<T>; 2]) -> Option<(T, T)> {
        for (here, there) in [(keys[0], keys[1]), (keys[1], keys[0])] {
            if self.has(here) && !self.has(there) {
                self.fault(there, "", FaultKind::MissingValue, format!("is missing while {here} is given"));
            }
        }
        let [first, second] = values;
        first.zip(second)
    }

    /// Keys that were never asked for, with the name of the table.
    pub(super) fn unknown(&self) -> Vec<String> {
        let asked = |key: &str| self.asked.contains(key);
        self.table
            .keys()
            .map(|key| key.get_ref().as_ref())
            .filter(|key| !asked(key))
            .map(|key| self.path(key))
            .collect()
    }

    fn path(&self, key: &str) -> String {
        format!("{}.{key}", self.name)
    }

    /// Line of a value.
    pub(super) fn line_at(&self, value: &Spanned<DeValue<'_>>) -> u64 {
        self.lines.line(value.span().start)
    }

    /// The lines of the text.
    pub(super) fn lines(&self) -> &'a Lines {
        self.lines
    }
}

fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => text.to_string(),
        DeValue::Integer(number) => number.to_string(),
        DeValue::Float(number) => number.to_string(),
        DeValue::Boolean(value) => value.to_string(),
        other => other.type_str().to_owned(),
    }
}
