//! The scales in which temperatures are told to people.

use super::Invalid;
use super::place::{word_for, word_of};

/// A scale of temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Units {
    /// Degrees Celsius.
    #[default]
    Celsius,
    /// Degrees Fahrenheit.
    Fahrenheit,
}

impl Units {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 2] = [(Self::Celsius, "c"), (Self::Fahrenheit, "f")];

    /// Reads `c` or `f`.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "units", text)
    }

    /// The scale of exactly the word `c` or `f`, as addresses carry it.
    #[must_use]
    pub fn of_word(word: &str) -> Option<Self> {
        Self::WORDS.iter().find(|(_, known)| *known == word).map(|(units, _)| *units)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}
