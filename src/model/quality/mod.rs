//! Checks of daily water temperatures: which days are not to be believed, and why.
//!
//! | check | a day is doubted when |
//! |---|---|
//! | [`Check::Range`] | a value lies outside -1..=35 °C: below is ice or air, above kills trout and mayflies alike |
//! | [`Check::Sibling`] | the difference to the median of three or more other gauges is far from its usual size |
//! | [`Check::Sibling`] | or the middle difference of a month around it is 1.5 °C from that size, and well beyond how it scatters |
//! | [`Check::InAir`] | for days its daily range is several times the usual one and has left that of the other gauges |
//! | [`Check::Season`] | the value is far from what the same gauge shows at that time of year |
//! | [`Check::Spike`] | the day stands 5 °C or more above, or below, both neighbours |
//! | [`Check::Flat`] | the same value stands for 14 days or more, above 1.5 °C (water under ice is steady) |
//! | [`Check::Stretch`] | it lies between doubted days in a stretch of 30 measured days of which half or more are doubted |
//! | [`Check::Whole`] | two fifths or more of all days of its gauge, of a year or more, are doubted |
//!
//! No fixed cap below 35 °C is used, because a warm trout river reaches 25 °C and more in earnest.
//! "Usual" is measured on the shortest interval that holds a quarter (sibling) or half (season) of
//! the values of the same weeks in all years, after Rousseeuw's shorth (Rousseeuw and Leroy 1988,
//! "A robust scale estimator based on the shortest half"; from memory), so that even a gauge that
//! is wrong in two years of three is judged by its good year (and then not believed at all). The numbers are ours; they are held by
//! tests against real series, in which fewer than one day in a hundred of good water is doubted.
//!
//! [`check_instants`] looks at readings within a day: [`Check::Range`], [`Check::Step`] (2 °C or more within
//! the hour) and [`Check::Flat`] (the same value for a day). [`drift()`] holds a gauge against another
//! one or the air over months.
//!
//! A flag never deletes and never mends: the day is kept and not used.

mod dense;
pub mod drift;
mod in_air;
mod instants;
mod screen;

use chrono::NaiveDate;

pub use drift::{Against, DriftingDay, PARTS, drift, middle_of};
pub use instants::{InstantChecks, InstantDoubts, InstantFlag, STEP_C, STEP_MINUTES, STUCK_HOURS, check_instants};
pub use screen::check;

/// Lowest believable water temperature, °C. Super-cooled water and probe error reach -0.5.
pub const LOWEST_C: f64 = -1.0;
/// Highest believable daily temperature of running water with aquatic insects, °C.
pub const HIGHEST_C: f64 = 35.0;

/// One day of one gauge, °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Day {
    /// Local civil date.
    pub date: NaiveDate,
    /// Daily mean.
    pub tmean_c: f64,
    /// Daily minimum.
    pub tmin_c: f64,
    /// Daily maximum.
    pub tmax_c: f64,
}

/// Which check doubts a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Check {
    /// Outside what water can be.
    Range,
    /// Far from the other gauges.
    Sibling,
    /// The daily range of the air.
    InAir,
    /// Far from the gauge's own season.
    Season,
    /// A single day far from both neighbours.
    Spike,
    /// A reading far from the one before it.
    Step,
    /// The same value for weeks.
    Flat,
    /// In a stretch half of which is doubted.
    Stretch,
    /// Of a gauge two fifths of which are doubted.
    Whole,
}

/// One doubted day.
#[derive(Debug, Clone, PartialEq)]
pub struct Flag {
    /// Position of the gauge in the series given.
    pub gauge: usize,
    /// The day.
    pub date: NaiveDate,
    /// The check.
    pub check: Check,
    /// The reason in words, with numbers.
    pub reason: String,
}

/// Why an instant cannot be a water temperature in °C, if so.
#[must_use]
pub fn out_of_range(value_c: f64) -> Option<String> {
    (!(LOWEST_C..=HIGHEST_C).contains(&value_c))
        .then(|| format!("{value_c} °C is outside {LOWEST_C} to {HIGHEST_C} °C"))
}
