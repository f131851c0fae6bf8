//! Forecasts of the air and the weather as open services send them: bytes to checked values.

pub mod met_norway;
pub mod nws;

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::temperature::{PageFault, Refused, Why};
use crate::domain::air::WeatherHour;

/// Air that a forecast may state at all, degrees Celsius.
const AIR_C: std::ops::RangeInclusive<f64> = -90.0..=60.0;

/// Wind that a forecast may state at all, km/h.
const WIND_KMH: std::ops::RangeInclusive<f64> = 0.0..=400.0;
/// Rain within an hour that a forecast may state at all, mm: the world's record is three quarters of it.
const RAIN_MM: std::ops::RangeInclusive<f64> = 0.0..=400.0;

/// A forecast of the air at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct AirForecast {
    /// When the service made it.
    pub made_at: DateTime<Utc>,
    /// Hours in order of time, each time once.
    pub air: Vec<WeatherHour>,
    /// What was refused.
    pub refused: Refused,
}

impl AirForecast {
    /// A forecast of `rows`. Of two values for one time neither counts unless they are the same.
    fn of(made_at: DateTime<Utc>, rows: impl IntoIterator<Item = Result<WeatherHour, Why>>) -> Self {
        let mut refused = Refused::default();
        let mut by_time: BTreeMap<DateTime<Utc>, Option<WeatherHour>> = BTreeMap::new();
        for row in rows {
            match row {
                Err(why) => refused.add(why),
                Ok(row) if !AIR_C.contains(&row.air_c) => refused.add(Why::OutOfRange),
                Ok(row) => match by_time.get(&row.at).copied() {
                    None => drop(by_time.insert(row.at, Some(row))),
                    Some(Some(known)) if known.air_c == row.air_c => refused.add(Why::Repeated),
                    Some(Some(_)) => {
                        refused.add(Why::Conflict);
                        refused.add(Why::Conflict);
                        by_time.insert(row.at, None);
                    }
                    Some(None) => refused.add(Why::Conflict),
                },
            }
        }
        Self { made_at, air: by_time.into_values().flatten().collect(), refused }
    }
}

/// `value` where it is possible at all. Weather beside the temperature is left out, not refused: no model needs it.
fn possible(value: f64, range: &std::ops::RangeInclusive<f64>) -> Option<f64> {
    range.contains(&value).then_some(value)
}

/// When a forecast was made; one from the future or without such a time is refused whole.
fn made_at(value: &serde_json::Value, now: DateTime<Utc>) -> Result<DateTime<Utc>, PageFault> {
    let text = value.as_str().ok_or(PageFault::Form("it does not say when it was made"))?;
    super::temperature::value::instant(text, now).map_err(|_| PageFault::Form("it was made at no possible time"))
}
