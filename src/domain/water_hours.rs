//! Water temperature of the hours of a day.

use chrono::NaiveDate;

use super::Invalid;
use super::place::{word_for, word_of};
use super::said::Said;

/// Hours of a day on the clock. Days on which clocks change are told by the same 24.
pub const HOURS: usize = 24;

/// What gives the hours of a day their departures from its mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum HoursBasis {
    /// Nothing has to: every hour was measured.
    Measured,
    /// The usual day of the month, from readings of the reach's own gauge.
    OwnDays,
    /// That of another gauge, in the reach's own range where that is known.
    OtherGauge,
    /// No gauge near by is read by the hour: the course that streams have in common.
    CommonCourse,
}

impl HoursBasis {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 4] = [
        (Self::Measured, "measured"),
        (Self::OwnDays, "own-days"),
        (Self::OtherGauge, "other-gauge"),
        (Self::CommonCourse, "common-course"),
    ];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "water_hours.basis", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// Mean water of one hour of the local clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WaterHour {
    /// Temperature, degrees Celsius.
    pub water_c: f64,
    /// Its standard error, degrees Celsius; 0 where it was measured.
    pub error_c: f64,
}

/// The hours of one day.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterDay {
    /// Local civil date.
    pub date: NaiveDate,
    /// What the hours that were not measured rest on.
    pub basis: HoursBasis,
    /// From midnight on.
    pub hours: [WaterHour; HOURS],
}

/// The hours of some days at a reach.
#[derive(Debug, Clone, PartialEq)]
pub struct WaterHours {
    /// Where the course of a day comes from, in words.
    pub words: Said,
    /// Days in order.
    pub days: Vec<WaterDay>,
}
