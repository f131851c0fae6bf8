//! Faults of one incoming document, all of them at once.

use serde::Serialize;
use utoipa::ToSchema;

use super::Rule;
use crate::domain::Invalid;

/// Most faults kept for one document; a longer list helps nobody.
pub const MAX_FAULTS: usize = 100;

/// One fault: where it is, a stable code, and what the rule asks for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Fault {
    /// JSON Pointer into the body in URI fragment form, such as `#/sightings/0/count`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "#/sightings/0/count")]
    pub pointer: Option<String>,
    /// Name of the query parameter, for faults outside the body.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(example = "days")]
    pub parameter: Option<String>,
    /// Stable short code; treat the list of codes as open.
    #[schema(example = "out_of_range")]
    pub code: &'static str,
    /// What is wrong, in English words.
    pub detail: String,
    /// The rule that was broken, by which pages say it in the reader's language.
    #[serde(skip)]
    pub rule: Option<Rule>,
}

/// The faults of one document or query; the first fault of a place wins.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// One fault at `pointer`.
    #[must_use]
    pub fn one(pointer: impl Into<String>, code: &'static str, detail: impl Into<String>) -> Self {
        let mut faults = Self::default();
        faults.add(pointer, code, detail);
        faults
    }

    /// Adds a fault in the body unless `pointer` has one already.
    pub fn add(&mut self, pointer: impl Into<String>, code: &'static str, detail: impl Into<String>) {
        self.push(Fault { pointer: Some(pointer.into()), parameter: None, code, detail: detail.into(), rule: None });
    }

    /// Adds a fault of query parameter `name` unless it has one already.
    pub fn add_parameter(&mut self, name: impl Into<String>, code: &'static str, detail: impl Into<String>) {
        self.push(Fault { pointer: None, parameter: Some(name.into()), code, detail: detail.into(), rule: None });
    }

    /// Adds the fault that query parameter `name` breaks `rule`, unless it has one already.
    pub fn add_broken(&mut self, name: impl Into<String>, rule: Rule) {
        let (code, detail) = (rule.code(), rule.in_english());
        self.push(Fault { pointer: None, parameter: Some(name.into()), code, detail, rule: Some(rule) });
    }

    fn push(&mut self, fault: Fault) {
        let known = |old: &Fault| old.pointer == fault.pointer && old.parameter == fault.parameter;
        if self.0.len() < MAX_FAULTS && !self.0.iter().any(known) {
            self.0.push(fault);
        }
    }

    /// The value of a domain check, or a fault at `pointer`.
    pub fn check<T>(&mut self, pointer: &str, result: Result<T, Invalid>) -> Option<T> {
        result.map_err(|invalid| self.add(pointer, "invalid_value", invalid.reason)).ok()
    }

    /// Checks an optional value: `Some(None)` when absent, `None` after a fault.
    pub fn check_optional<S, T>(
        &mut self,
        pointer: &str,
        value: Option<S>,
        check: impl FnOnce(S) -> Result<T, Invalid>,
    ) -> Option<Option<T>> {
        match value {
            None => Some(None),
            Some(value) => self.check(pointer, check(value)).map(Some),
        }
    }

    /// True without faults.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Number of faults.
    #[must_use]
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// The faults in the order found.
    #[must_use]
    pub fn into_vec(self) -> Vec<Fault> {
        self.0
    }

    /// The faults in the order found.
    pub fn iter(&self) -> impl Iterator<Item = &Fault> {
        self.0.iter()
    }
}
