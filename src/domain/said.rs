//! What is said in several languages at once, where it is said before anyone reads it.

use std::collections::BTreeMap;

/// Words in English and in other languages.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Said {
    /// In English.
    pub english: String,
    /// The same in other languages, by their tags (BCP 47).
    pub others: BTreeMap<String, String>,
}

impl From<&str> for Said {
    fn from(english: &str) -> Self {
        Self { english: english.to_owned(), others: BTreeMap::new() }
    }
}
