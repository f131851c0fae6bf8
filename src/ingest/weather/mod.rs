//! Forecasts of air temperature as open services send them: bytes to checked values.

pub mod met_norway;
pub mod nws;

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};

use super::temperature::{PageFault, Refused, Why};

/// Air that a forecast may state at all, degrees Celsius.
const AIR_C: std::ops::RangeInclusive<f64> = -90.0..=60.0;

/// Air temperature at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AirAt {
    /// When.
    pub at: DateTime<Utc>,
    /// Degrees Celsius.
    pub air_c: f64,
}

/// A forecast of air temperature at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct AirForecast {
    /// When the service made it.
    pub made_at: DateTime<Utc>,
    /// Temperatures in order of time, each time once.
    pub air: Vec<AirAt>,
    /// What was refused.
    pub refused: Refused,
}

impl AirForecast {
    /// A forecast of `rows`. Of two values for one time neither counts unless they are the same.
    fn of(made_at: DateTime<Utc>, rows: impl IntoIterator<Item = Result<AirAt, Why>>) -> Self {
        let mut refused = Refused::default();
        let mut by_time: BTreeMap<DateTime<Utc>, Option<f64>> = BTreeMap::new();
        for row in rows {
            match row {
                Err(why) => refused.add(why),
                Ok(row) if !AIR_C.contains(&row.air_c) => refused.add(Why::OutOfRange),
                Ok(row) => match by_time.get(&row.at).copied() {
                    None => drop(by_time.insert(row.at, Some(row.air_c))),
                    Some(Some(known)) if known == row.air_c => refused.add(Why::Repeated),
                    Some(Some(_)) => {
                        refused.add(Why::Conflict);
                        refused.add(Why::Conflict);
                        by_time.insert(row.at, None);
                    }
                    Some(None) => refused.add(Why::Conflict),
                },
            }
        }
        let air = by_time.into_iter().filter_map(|(at, air_c)| Some(AirAt { at, air_c: air_c? })).collect();
        Self { made_at, air, refused }
    }
}

/// When a forecast was made; one from the future or without such a time is refused whole.
fn made_at(value: &serde_json::Value, now: DateTime<Utc>) -> Result<DateTime<Utc>, PageFault> {
    let text = value.as_str().ok_or(PageFault::Form("it does not say when it was made"))?;
    super::temperature::value::instant(text, now).map_err(|_| PageFault::Form("it was made at no possible time"))
}
