//! A text that is shown to nobody.

use std::fmt;

/// A text that is shown to nobody: a key or a password. Written for people it is stars.
#[derive(Clone, Default, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// Hides `text`.
    pub fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// True when there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The text, for the request alone.
    #[must_use]
    pub fn reveal(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(if self.0.is_empty() { "(none)" } else { "***" })
    }
}
