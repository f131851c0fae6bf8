//! Identifiers: slugs that people type, and UUIDs that machines make.

use std::fmt;

use super::Invalid;

/// Longest slug accepted.
pub const SLUG_MAX: usize = 64;

/// A short name of a watershed, reach, gauge or taxon: letters, digits, `-` and `_`.
///
/// The spelling of the first import is kept for display; two slugs are equal when they differ
/// only in case.
#[derive(Debug, Clone, Eq)]
pub struct Slug(String);

impl Slug {
    /// Checks and wraps `text`.
    ///
    /// # Errors
    /// [`Invalid`] when `text` is empty, longer than [`SLUG_MAX`] or holds another character.
    pub fn new(text: &str) -> Result<Self, Invalid> {
        let ok = !text.is_empty()
            && text.len() <= SLUG_MAX
            && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
        if ok {
            Ok(Self(text.to_owned()))
        } else {
            Err(Invalid::new("slug", text, "use 1 to 64 letters, digits, '-' or '_'"))
        }
    }

    /// The spelling as given.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The lower-case key under which the slug is unique.
    #[must_use]
    pub fn key(&self) -> String {
        self.0.to_ascii_lowercase()
    }
}

impl PartialEq for Slug {
    fn eq(&self, other: &Self) -> bool {
        self.0.eq_ignore_ascii_case(&other.0)
    }
}

impl std::hash::Hash for Slug {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.key().hash(state);
    }
}

impl PartialOrd for Slug {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Slug {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.key().cmp(&other.key())
    }
}

impl fmt::Display for Slug {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slugs_match_without_regard_to_case_and_keep_their_spelling() {
        let upper = Slug::new("HBK").expect("valid");
        assert_eq!(upper, Slug::new("hbk").expect("valid"));
        assert_eq!(upper.as_str(), "HBK");
        assert!(Slug::new("").is_err() && Slug::new("a b").is_err() && Slug::new("\u{e9}").is_err());
    }
}
