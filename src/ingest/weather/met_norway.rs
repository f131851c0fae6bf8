//! Location forecasts of MET Norway, version 2, compact form.

use chrono::{DateTime, Utc};
use serde_json::Value;

use super::{AirAt, AirForecast, made_at};
use crate::ingest::temperature::{PageFault, Why, value};

/// Reads a forecast. Every step has an instant; the last one has nothing else, which does not matter here.
///
/// # Errors
/// [`PageFault`] when the answer as a whole is unusable.
pub fn forecast(bytes: &[u8], now: DateTime<Utc>) -> Result<AirForecast, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let properties = &body["properties"];
    let steps = properties["timeseries"].as_array().ok_or(PageFault::Form("there is no time series"))?;
    let made = made_at(&properties["meta"]["updated_at"], now)?;
    let unit = properties["meta"]["units"]["air_temperature"].as_str().ok_or(Why::Unit).and_then(value::unit);
    Ok(AirForecast::of(made, steps.iter().map(|step| row(step, unit, made))))
}

fn row(step: &Value, unit: Result<value::Unit, Why>, made: DateTime<Utc>) -> Result<AirAt, Why> {
    let at = step["time"].as_str().and_then(value::any_instant).ok_or(Why::Time)?;
    super::nws::within_reach(at, made)?;
    let number = value::number(&step["data"]["instant"]["details"]["air_temperature"])?;
    Ok(AirAt { at, air_c: value::water_c(number, unit?)? })
}
