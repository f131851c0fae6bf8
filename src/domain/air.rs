//! Forecasts of the air at a place, as a service made them.

use chrono::{DateTime, NaiveDate, Utc};

use super::Slug;

/// Air of one local civil day as forecast, degrees Celsius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirDay {
    /// Local civil date at the watershed.
    pub date: NaiveDate,
    /// Mean of the day.
    pub tmean_c: f64,
    /// Least of the day.
    pub tmin_c: f64,
    /// Greatest of the day.
    pub tmax_c: f64,
}

/// One forecast of the air at a gauge.
#[derive(Debug, Clone, PartialEq)]
pub struct AirIssue {
    /// The gauge that names the service.
    pub gauge: Slug,
    /// When the service made it.
    pub made_at: DateTime<Utc>,
    /// When we learned it, never before it was made.
    pub known_at: DateTime<Utc>,
    /// Service and place.
    pub source: String,
    /// Whole days that follow one another.
    pub days: Vec<AirDay>,
}
