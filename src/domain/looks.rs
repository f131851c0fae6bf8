//! What an insect looks like in the hand, and what people call it.

use super::Invalid;
use super::place::{word_for, word_of};

/// Colour of a body or wing, coarse enough that two people say the same word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Colour {
    /// Black or nearly.
    Black,
    /// Grey, slate or bluish grey.
    Grey,
    /// Brown.
    Brown,
    /// Reddish brown, from rust to claret.
    Rust,
    /// Brownish green.
    Olive,
    /// Green.
    Green,
    /// Yellow.
    Yellow,
    /// Cream to whitish.
    Cream,
    /// Orange.
    Orange,
    /// Clear as glass.
    Clear,
}

impl Colour {
    /// All colours with their words.
    pub const WORDS: [(Self, &'static str); 10] = [
        (Self::Black, "black"),
        (Self::Grey, "grey"),
        (Self::Brown, "brown"),
        (Self::Rust, "rust"),
        (Self::Olive, "olive"),
        (Self::Green, "green"),
        (Self::Yellow, "yellow"),
        (Self::Cream, "cream"),
        (Self::Orange, "orange"),
        (Self::Clear, "clear"),
    ];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "colour", text)
    }

    /// The word of this colour.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// How an insect at rest holds its wings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WingsHeld {
    /// Upright over the back, like a sail.
    Upright,
    /// Sloping like a roof along the body.
    Roof,
    /// Flat on the back, or rolled round the body.
    Flat,
    /// Spread out on the water.
    Spread,
}

impl WingsHeld {
    /// All ways with their words.
    pub const WORDS: [(Self, &'static str); 4] =
        [(Self::Upright, "upright"), (Self::Roof, "roof"), (Self::Flat, "flat"), (Self::Spread, "spread")];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "wings", text)
    }

    /// The word of this way.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// Checks a number of tails (cerci and the filament between them): 0, 2 or 3.
///
/// # Errors
/// [`Invalid`] for any other number.
pub fn check_tails(number: u32) -> Result<u8, Invalid> {
    match number {
        0 => Ok(0),
        2 => Ok(2),
        3 => Ok(3),
        other => Err(Invalid::new("tails", other, "must be 0, 2 or 3: one that seems single has lost the others")),
    }
}

/// What winged insects of a taxon look like, both sexes and all winged stages together. Empty lists mean
/// that nobody said.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Looks {
    /// Numbers of tails that are plain to see: 0, 2, 3; two numbers where sexes differ or tails are tiny.
    pub tails: Vec<u8>,
    /// Colours of the body.
    pub body: Vec<Colour>,
    /// Colours of the wings.
    pub wings: Vec<Colour>,
}

/// What was seen of one insect; everything may be missing.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Seen {
    /// Body length without tails, mm, above 0.
    pub length_mm: Option<f64>,
    /// Number of tails: 0, 2 or 3.
    pub tails: Option<u8>,
    /// How it held its wings.
    pub wings: Option<WingsHeld>,
    /// Colours of the body.
    pub body: Vec<Colour>,
    /// Colours of the wings.
    pub wing_colours: Vec<Colour>,
}

/// What people call a taxon in one language.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct VernacularName {
    /// Language tag (BCP 47), such as `en` or `en-GB`.
    pub language: String,
    /// The name.
    pub name: String,
    /// Where it comes from, in words.
    pub provenance: String,
}

/// Checks a language tag: a language of two or three small letters, perhaps a region of two capitals
/// (the part of BCP 47 that names need; from memory).
///
/// # Errors
/// [`Invalid`] for anything else.
pub fn check_language(text: &str) -> Result<String, Invalid> {
    let (language, region) = text.split_once('-').map_or((text, None), |(language, region)| (language, Some(region)));
    let small = (2..=3).contains(&language.len()) && language.bytes().all(|byte| byte.is_ascii_lowercase());
    let capital = region.is_none_or(|region| region.len() == 2 && region.bytes().all(|byte| byte.is_ascii_uppercase()));
    if small && capital {
        Ok(text.to_owned())
    } else {
        Err(Invalid::new("language", text, "must be a language tag such as en or en-GB"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_is_read_and_no_other() {
        for (colour, word) in Colour::WORDS {
            assert_eq!(Colour::parse(word), Ok(colour));
            assert_eq!(colour.as_str(), word);
        }
        for (held, word) in WingsHeld::WORDS {
            assert_eq!(WingsHeld::parse(word), Ok(held));
            assert_eq!(held.as_str(), word);
        }
        assert!(Colour::parse("mauve").is_err() && WingsHeld::parse("folded").is_err());
    }

    #[test]
    fn tails_and_languages_outside_the_rules_are_refused() {
        assert_eq!([0, 2, 3].map(check_tails), [Ok(0), Ok(2), Ok(3)]);
        assert!([1, 4, 258].into_iter().all(|number| check_tails(number).is_err()));
        for good in ["en", "en-GB", "cy", "gsw"] {
            assert_eq!(check_language(good).as_deref(), Ok(good));
        }
        for bad in ["", "e", "EN", "en-gb", "en-", "en-GBR", "english", "en_GB", "-GB"] {
            assert!(check_language(bad).is_err(), "{bad}");
        }
    }
}
