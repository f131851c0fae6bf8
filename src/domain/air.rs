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

/// Weather of one hour as forecast; what the service does not say is `None`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeatherHour {
    /// When.
    pub at: DateTime<Utc>,
    /// Air, degrees Celsius.
    pub air_c: f64,
    /// Wind, km/h.
    pub wind_kmh: Option<f64>,
    /// Share of the sky that clouds cover, 0 to 1.
    pub cloud: Option<f64>,
    /// Rain within an hour, mm.
    pub rain_mm: Option<f64>,
}

/// The weather at sunset of one day, as forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EveningWeather {
    /// The day.
    pub date: NaiveDate,
    /// When the forecast was made.
    pub made_at: DateTime<Utc>,
    /// The hour nearest to sunset.
    pub hour: WeatherHour,
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
    /// The hours it speaks of, in order of time.
    pub hours: Vec<WeatherHour>,
}
