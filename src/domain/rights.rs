//! On what terms data may be passed on.

use super::Invalid;

/// Longest licence, characters.
pub const LICENCE_MAX: usize = 200;
/// Longest citation, characters.
pub const CITATION_MAX: usize = 1000;

/// The licence of data and how to cite them, where somebody said so.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Rights {
    /// Name or address of the licence.
    pub licence: Option<String>,
    /// How to cite them.
    pub citation: Option<String>,
}

impl Rights {
    /// Checks both; empty text says nothing.
    ///
    /// # Errors
    /// [`Invalid`] for text that is too long or has control characters.
    pub fn new(licence: Option<String>, citation: Option<String>) -> Result<Self, Invalid> {
        Ok(Self {
            licence: check("licence", licence, LICENCE_MAX)?,
            citation: check("citation", citation, CITATION_MAX)?,
        })
    }

    /// True when nothing was said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.licence.is_none() && self.citation.is_none()
    }
}

fn check(field: &'static str, text: Option<String>, most: usize) -> Result<Option<String>, Invalid> {
    let Some(text) = text.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty()) else { return Ok(None) };
    if text.chars().count() > most || text.chars().any(char::is_control) {
        return Err(Invalid::new(field, text, format!("must be at most {most} characters without line ends")));
    }
    Ok(Some(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn empty_says_nothing_and_line_ends_are_refused() {
        let rights = Rights::new(Some(" CC0 1.0 ".to_owned()), Some("  ".to_owned())).expect("valid");
        assert_eq!((rights.licence.as_deref(), rights.citation.clone()), (Some("CC0 1.0"), None));
        assert!(Rights::default().is_empty() && !rights.is_empty());
        assert_eq!(Rights::new(None, Some("a\nb".to_owned())).expect_err("fault").field, "citation");
        assert_eq!(Rights::new(Some("x".repeat(LICENCE_MAX + 1)), None).expect_err("fault").field, "licence");
    }
}
