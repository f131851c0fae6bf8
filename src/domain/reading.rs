//! Readings: when they were true, when we learned them, and how good they are.

use chrono::{DateTime, NaiveDate, Utc};

use super::place::{word_for, word_of};
use super::{Invalid, Quantity, Slug};

/// Lowest water temperature a reading may state at all, in degrees Celsius.
pub const WATER_MIN_C: f64 = -60.0;
/// Highest water temperature a reading may state at all, in degrees Celsius.
pub const WATER_MAX_C: f64 = 100.0;

/// How far a reading may be trusted. Models use only [`Quality::Good`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quality {
    /// Used by the models.
    Good,
    /// Kept, not used: a check or the source doubts it.
    Suspect,
    /// Kept, not used: known to be wrong.
    Bad,
}

impl Quality {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 3] = [(Self::Good, "good"), (Self::Suspect, "suspect"), (Self::Bad, "bad")];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "flag", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// What a reading is about: a whole civil day or an instant. Values are in the unit of its quantity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReadingTime {
    /// A local calendar day with its mean and extremes.
    Day {
        /// Local civil date at the watershed.
        date: NaiveDate,
        /// Daily mean.
        mean: f64,
        /// Daily minimum; equal to the mean when only a mean is known.
        low: f64,
        /// Daily maximum; equal to the mean when only a mean is known.
        high: f64,
    },
    /// One instant.
    Instant {
        /// When it was true.
        at: DateTime<Utc>,
        /// The value.
        value: f64,
    },
}

/// One reading of one quantity at one gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The gauge.
    pub gauge: Slug,
    /// What was measured.
    pub quantity: Quantity,
    /// What it states.
    pub time: ReadingTime,
    /// Quality after the source's own flag and our checks.
    pub quality: Quality,
    /// Why it is not good, in words; or that a keeper found it good. Else empty.
    pub reasons: Vec<String>,
    /// When we learned it.
    pub known_at: DateTime<Utc>,
    /// True when `known_at` was assumed (end of the local day plus one day), not stated.
    pub known_assumed: bool,
    /// Where it came from, for example `file:temperature.csv`.
    pub source: String,
    /// What an open service says of it, as sent, for example `Provisional`.
    pub qualifiers: Vec<String>,
}

impl ReadingTime {
    /// A daily reading of water temperature, degrees Celsius. A missing extreme takes the value of the mean.
    ///
    /// # Errors
    /// As [`Quantity::day`].
    pub fn day(date: NaiveDate, tmean_c: f64, tmin_c: Option<f64>, tmax_c: Option<f64>) -> Result<Self, Invalid> {
        Quantity::WaterTemperature.day(date, tmean_c, tmin_c, tmax_c)
    }

    /// Least and greatest value.
    #[must_use]
    pub fn extremes(&self) -> (f64, f64) {
        match *self {
            Self::Day { low, high, .. } => (low, high),
            Self::Instant { value, .. } => (value, value),
        }
    }

    /// A reading of water temperature at an instant, degrees Celsius.
    ///
    /// # Errors
    /// As [`Quantity::instant`].
    pub fn instant(at: DateTime<Utc>, value_c: f64) -> Result<Self, Invalid> {
        Quantity::WaterTemperature.instant(at, value_c)
    }
}
