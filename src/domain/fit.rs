//! A stored fit: a clock and its parameters for a taxon and brood, with the data it saw.

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use super::Invalid;
use super::Slug;
use super::place::{word_for, word_of};

/// What an emergence curve runs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum ClockKind {
    /// Days.
    Calendar,
    /// Degree-days of the water.
    Thermal,
    /// Degree-days weighted by day length.
    Photothermal,
    /// Degree-days behind a day-length gate.
    Gated,
}

impl ClockKind {
    /// All variants in the fixed order of weights, with their words.
    pub const WORDS: [(Self, &'static str); 4] = [
        (Self::Calendar, "calendar"),
        (Self::Thermal, "thermal"),
        (Self::Photothermal, "photothermal"),
        (Self::Gated, "gated"),
    ];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "clock", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }

    /// Position in the fixed order of weights.
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }
}

/// One fit as stored. The fitted parameters travel as one versioned text that only the model reads.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// Identifier.
    pub id: Uuid,
    /// Watershed fitted.
    pub watershed: Slug,
    /// Taxon fitted.
    pub taxon: Slug,
    /// Brood, from 1.
    pub brood: u8,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Only what was true and known up to the end of this local day was used; `None` means all.
    pub through: Option<NaiveDate>,
    /// Records it saw.
    pub records: u32,
    /// Years with records.
    pub years: u32,
    /// True when the data were too few to leave the prior.
    pub prior_driven: bool,
    /// Weights of the four clocks in the order of [`ClockKind::WORDS`], sum 1.
    pub weights: [f64; 4],
    /// Left-out log score better than the best calendar's by more than one standard error.
    pub beats_calendar: bool,
    /// Factor by which intervals of dates are wider than the model draws them, at least 1, because years
    /// left out escaped them; `None` for fits stored before it was kept.
    pub widening: Option<f64>,
    /// Doubts found while fitting, in words.
    pub warnings: Vec<String>,
    /// The fitted models, posterior and the data summary that forecasts need, as versioned JSON.
    pub model_json: String,
}
