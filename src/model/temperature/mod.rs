//! Water temperature of a reach: what was measured, what can be filled in, and what may come.
//!
//! The way through: [`site_temperature`] takes a reach's own daily series and those of its
//! neighbours up to a day and gives a [`Completed`] series with a [`Climatology`]; [`ensemble`]
//! draws whole seasons from them. Nothing after the given day is looked at anywhere, so that a
//! hindcast sees what a forecast would have seen.

pub mod air2stream;
mod autoregression;
pub mod between;
pub mod climatology;
pub mod diel;
pub mod ensemble;
pub mod from_air;
pub mod gaps;
pub mod hourly;
pub mod left_out;
pub mod neighbours;
pub mod series;
mod traces;

use chrono::NaiveDate;
use thiserror::Error;

pub use between::{Between, between};
pub use climatology::{Climatology, DielRange};
pub use diel::{DielShape, UsualDay};
pub use ensemble::{FEWEST_TRACES, SeasonDay, central_season, ensemble};
pub use from_air::{
    AirForecast, AirForecastDay, AirSeries, LONGEST_AIR_GAP, WaterFromAir, days_of_forecast, ensemble_with_air, error_c,
};
pub use gaps::{Completed, CompletedDay, DayBasis};
pub use left_out::LeftOutSeason;
pub use neighbours::{Neighbour, SiteMethod, SiteTemperature, site_temperature, site_temperature_with_air};
pub use series::{DayTemp, Series, days_from_instants};
pub use traces::LARGEST_MOVE;

/// Lowest water temperature that is simulated or filled in, degrees Celsius. Measured values keep
/// what they say: moving water is met down to about half a degree below zero.
pub const WATER_FLOOR_C: f64 = -0.5;

/// Why a reach has no temperature to work with. The calendar clock needs none.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TemperatureError {
    /// Neither the reach nor any neighbour has a usable series.
    #[error("no water temperature is known for this reach or its neighbours")]
    NoTemperature,
    /// Too little of the year is covered to know what is usual.
    #[error("the yearly cycle needs {needed} different days of the year, found {days}")]
    TooFewDays {
        /// Different days of the year with a value.
        days: usize,
        /// How many are needed.
        needed: usize,
    },
    /// The days cannot tell the harmonics apart.
    #[error("the yearly cycle cannot be fitted to these days")]
    Unsolvable,
    /// Water cannot be made from this air.
    #[error(transparent)]
    Air2Stream(#[from] air2stream::Air2StreamError),
    /// A place that does not lie between the two gauges.
    #[error("the reach does not lie between the two gauges")]
    NotBetween,
    /// A day of an air forecast does not follow the one before, or has no value.
    #[error("day {day} of the air forecast, counted from 0, does not follow the day before or is not a number")]
    AirForecast {
        /// Position, 0 for the first.
        day: usize,
    },
    /// What was prepared has seen days after the one the forecast is made for.
    #[error("temperatures prepared through {through} cannot be used for a forecast as of {as_of}")]
    LooksAhead {
        /// The last day that was used.
        through: NaiveDate,
        /// The day of the forecast.
        as_of: NaiveDate,
    },
}
