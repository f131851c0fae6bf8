//! Which waters a taxon's season window speaks of.

use super::Invalid;
use super::place::{word_for, word_of};

/// The region whose rivers a season window and the middles of broods were told of. All lie north of the equator.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WindowReference {
    /// Lowland to mid-elevation rivers at about 41 to 45 degrees north.
    MidLatitudes,
    /// British and central European rivers at about 50 to 54 degrees north.
    NorthernEurope,
    /// Coastal plain of the south-eastern United States, about 30 to 34 degrees north.
    SoutheasternPlain,
}

impl WindowReference {
    /// All variants with their words in files and in the API.
    pub const WORDS: [(Self, &'static str); 3] = [
        (Self::MidLatitudes, "mid-latitudes-41-45-n"),
        (Self::NorthernEurope, "northern-europe-50-54-n"),
        (Self::SoutheasternPlain, "southeastern-plain-30-34-n"),
    ];

    /// Reads a word; `_` and space stand for `-`.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "window_reference", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }

    /// Middle latitude, degrees north.
    #[must_use]
    pub fn latitude_deg(self) -> f64 {
        match self {
            Self::MidLatitudes => 43.0,
            Self::NorthernEurope => 52.0,
            Self::SoutheasternPlain => 32.0,
        }
    }
}
