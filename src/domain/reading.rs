//! Water-temperature readings: when they were true, when we learned them, and how good they are.

use chrono::{DateTime, NaiveDate, Utc};

use super::place::{in_range, word_for, word_of};
use super::{Invalid, Slug};

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

/// What a reading is about: a whole civil day or an instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReadingTime {
    /// A local calendar day with its mean and extremes in degrees Celsius.
    Day {
        /// Local civil date at the watershed.
        date: NaiveDate,
        /// Daily mean.
        tmean_c: f64,
        /// Daily minimum; equal to the mean when only a mean is known.
        tmin_c: f64,
        /// Daily maximum; equal to the mean when only a mean is known.
        tmax_c: f64,
    },
    /// One instant.
    Instant {
        /// When it was true.
        at: DateTime<Utc>,
        /// Water temperature in degrees Celsius.
        value_c: f64,
    },
}

/// One reading of water temperature at one gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The gauge.
    pub gauge: Slug,
    /// What it states.
    pub time: ReadingTime,
    /// Quality after the source's own flag and our checks.
    pub quality: Quality,
    /// Why it is not good, in words; empty when good.
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
    /// A daily reading. A missing extreme takes the value of the mean.
    ///
    /// # Errors
    /// [`Invalid`] when a value is not a possible temperature, `tmin_c > tmax_c`, or the mean lies
    /// outside the extremes. Swapped extremes are refused, not mended.
    pub fn day(date: NaiveDate, tmean_c: f64, tmin_c: Option<f64>, tmax_c: Option<f64>) -> Result<Self, Invalid> {
        let tmean_c = check_water_c("tmean_c", tmean_c)?;
        let tmin_c = tmin_c.map(|v| check_water_c("tmin_c", v)).transpose()?;
        let tmax_c = tmax_c.map(|v| check_water_c("tmax_c", v)).transpose()?;
        if let (Some(low), Some(high)) = (tmin_c, tmax_c)
            && low > high
        {
            return Err(Invalid::new("tmin_c", low, format!("is above tmax_c ({high})")));
        }
        let (low, high) = (tmin_c.unwrap_or(tmean_c), tmax_c.unwrap_or(tmean_c));
        if tmean_c < low || tmean_c > high {
            return Err(Invalid::new("tmean_c", tmean_c, format!("lies outside tmin_c..tmax_c ({low}..{high})")));
        }
        Ok(Self::Day { date, tmean_c, tmin_c: low, tmax_c: high })
    }

    /// A reading at an instant.
    ///
    /// # Errors
    /// [`Invalid`] when the value is not a possible temperature.
    pub fn instant(at: DateTime<Utc>, value_c: f64) -> Result<Self, Invalid> {
        Ok(Self::Instant { at, value_c: check_water_c("value_c", value_c)? })
    }
}

fn check_water_c(field: &'static str, value: f64) -> Result<f64, Invalid> {
    in_range(field, value, WATER_MIN_C, WATER_MAX_C, "a temperature in degrees Celsius between -60 and 100")
}
