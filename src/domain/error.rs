//! The one error of the domain: a value that breaks a rule, with the field it stands in; and how any error is
//! written with what caused it, which every layer may need.

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

/// `error` with its causes, outermost first, in one line for logs and notes.
#[must_use]
pub fn chain(error: &dyn std::error::Error) -> String {
    let mut text = error.to_string();
    let mut cause = error.source();
    while let Some(next) = cause {
        text.push_str(": ");
        text.push_str(&next.to_string());
        cause = next.source();
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Error)]
    #[error("the page could not be made")]
    struct Outer(#[source] Inner);

    #[derive(Debug, Error)]
    #[error("the place could not be read")]
    struct Inner(#[from] Invalid);

    #[test]
    fn every_cause_is_told_once_outermost_first() {
        let fault = Invalid::new("slug", "a b", "must have no space");
        assert_eq!(chain(&fault), "slug: must have no space (found \"a b\")");
        let told = chain(&Outer(Inner(fault)));
        assert_eq!(
            told,
            "the page could not be made: the place could not be read: slug: must have no space (found \"a b\")"
        );
    }
}
