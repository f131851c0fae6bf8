//! The one error of the domain: a value that breaks a rule, with the field it stands in.

use thiserror::Error;

/// A value that breaks a rule of the domain.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{field}: {reason} (found {value:?})")]
pub struct Invalid {
    /// Name of the field in the words of the file and API forms, for example `tmin_c`.
    pub field: &'static str,
    /// The offending value as text.
    pub value: String,
    /// What the rule asks for.
    pub reason: String,
}

impl Invalid {
    /// A fault of `field` holding `value`, broken rule in `reason`.
    pub fn new(field: &'static str, value: impl std::fmt::Display, reason: impl Into<String>) -> Self {
        Self { field, value: value.to_string(), reason: reason.into() }
    }
}
