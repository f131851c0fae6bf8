//! What a parameter of an address has to be. Each rule is one message: in English it is the `detail` of documents, and
//! pages say it in the reader's language.

use crate::domain::Slug;
use crate::say;
use crate::words::Language;

/// A rule that a parameter broke.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Rule {
    /// The address has a parameter of that name.
    Known,
    /// It stands once.
    Once,
    /// It is `true` or `false`.
    YesOrNo,
    /// A civil date in one of the years that are read.
    Date {
        /// First year.
        first: i32,
        /// Last year.
        last: i32,
    },
    /// A time of day.
    TimeOfDay,
    /// A whole number within these, as they are written.
    Whole {
        /// Lowest.
        low: String,
        /// Highest.
        high: String,
    },
    /// Length of an insect.
    Length,
    /// Number of tails.
    Tails,
    /// One of two words.
    Either(&'static str, &'static str),
    /// One of these words.
    OneOf(Vec<&'static str>),
    /// Light or dark, which an image has to be told.
    ThemeOfImage,
    /// A short name of a place or an insect.
    Slug,
    /// A reach of the watershed.
    ReachHere(Slug),
    /// A taxon of the watershed.
    TaxonHere(Slug),
    /// What programs alone send, in English.
    InEnglish(String),
}

impl Rule {
    /// One of the words of a closed list.
    #[must_use]
    pub fn one_of<T>(words: &[(T, &'static str)]) -> Self {
        Self::OneOf(words.iter().map(|(_, word)| *word).collect())
    }

    /// Stable short code of the fault.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::Known => "unknown_parameter",
            Self::Once => "repeated",
            Self::ReachHere(_) | Self::TaxonHere(_) => "unknown_slug",
            _ => "invalid_value",
        }
    }

    /// In the words of `language`; none for what is told in English alone.
    #[must_use]
    pub fn told(&self, language: Language) -> Option<String> {
        Some(match self {
            Self::Known => say!(language, "fault-known"),
            Self::Once => say!(language, "fault-once"),
            Self::YesOrNo => say!(language, "fault-yes-or-no"),
            Self::Date { first, last } => say!(language, "fault-date", first = *first, last = *last),
            Self::TimeOfDay => say!(language, "fault-time"),
            Self::Whole { low, high } => say!(language, "fault-whole", low = low, high = high),
            Self::Length => say!(language, "fault-length"),
            Self::Tails => say!(language, "fault-tails"),
            Self::Either(one, other) => say!(language, "fault-either", one = *one, other = *other),
            Self::OneOf(words) => say!(language, "fault-one-of", words = words.join(", ")),
            Self::ThemeOfImage => say!(language, "fault-theme-of-image"),
            Self::Slug => say!(language, "fault-slug"),
            Self::ReachHere(slug) => say!(language, "fault-reach-here", slug = slug.as_str()),
            Self::TaxonHere(slug) => say!(language, "fault-taxon-here", slug = slug.as_str()),
            Self::InEnglish(_) => return None,
        })
    }

    /// In English, as documents tell it.
    #[must_use]
    pub fn in_english(&self) -> String {
        match self {
            Self::InEnglish(text) => text.clone(),
            known => known.told(Language::English).unwrap_or_default(),
        }
    }
}

impl From<&str> for Rule {
    fn from(text: &str) -> Self {
        Self::InEnglish(text.to_owned())
    }
}

impl From<String> for Rule {
    fn from(text: String) -> Self {
        Self::InEnglish(text)
    }
}
