//! Signs from the bank: what a member sees before anything is in the net.

use super::Invalid;
use super::place::{word_for, word_of};

/// What fish and insects show a watcher.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Sign {
    /// Nymphs from under a stone have black wing pads.
    DarkWingPads,
    /// Steady, unhurried rises and nothing in the air.
    QuietRises,
    /// A bubble stays on the water after the rise.
    BubbleAfterRise,
    /// Fish turn and flash near the bottom.
    DeepFlashes,
    /// Duns sail down untouched while fish rise.
    DunsIgnored,
    /// Fish come to the fly and turn away at the last moment.
    LateRefusals,
}

impl Sign {
    /// All signs with their words.
    pub const WORDS: [(Self, &'static str); 6] = [
        (Self::DarkWingPads, "dark-wing-pads"),
        (Self::QuietRises, "quiet-rises-empty-air"),
        (Self::BubbleAfterRise, "bubble-after-rise"),
        (Self::DeepFlashes, "deep-flashes"),
        (Self::DunsIgnored, "duns-ignored"),
        (Self::LateRefusals, "late-refusals"),
    ];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "signs", text)
    }

    /// The word of this sign.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sign_is_read_from_its_word_and_no_other() {
        for (sign, word) in Sign::WORDS {
            assert_eq!(Sign::parse(word).map(Sign::as_str), Ok(word));
            assert_eq!(Sign::parse(word), Ok(sign));
        }
        assert!(Sign::parse("red-sky").is_err());
    }
}
