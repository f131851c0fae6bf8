//! Location forecasts of MET Norway, version 2, compact form.

use chrono::{DateTime, Utc};
use serde_json::Value;

use super::{AirForecast, RAIN_MM, WIND_KMH, made_at, possible};
use crate::domain::air::WeatherHour;
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
    let units = Units::of(&properties["meta"]["units"]);
    Ok(AirForecast::of(made, steps.iter().map(|step| row(step, &units, made))))
}

/// What the numbers mean.
struct Units {
    air: Result<value::Unit, Why>,
    /// Whether wind is in m/s, cloud in per cent and rain in mm: what is in other units is left out.
    wind: bool,
    cloud: bool,
    rain: bool,
}

impl Units {
    fn of(units: &Value) -> Self {
        let is = |name: &str, unit: &str| units[name].as_str() == Some(unit);
        Self {
            air: units["air_temperature"].as_str().ok_or(Why::Unit).and_then(value::unit),
            wind: is("wind_speed", "m/s"),
            cloud: is("cloud_area_fraction", "%"),
            rain: is("precipitation_amount", "mm"),
        }
    }
}

fn row(step: &Value, units: &Units, made: DateTime<Utc>) -> Result<WeatherHour, Why> {
    let at = step["time"].as_str().and_then(value::any_instant).ok_or(Why::Time)?;
    super::nws::within_reach(at, made)?;
    let now = &step["data"]["instant"]["details"];
    let number = value::number(&now["air_temperature"])?;
    // Steps far ahead are six hours long.
    let rain_mm = [("next_1_hours", 1.0), ("next_6_hours", 6.0)].into_iter().find_map(|(span, hours)| {
        let amount = step["data"][span]["details"]["precipitation_amount"].as_f64()?;
        possible(amount / hours, &RAIN_MM)
    });
    Ok(WeatherHour {
        at,
        air_c: value::water_c(number, units.air?)?,
        wind_kmh: now["wind_speed"].as_f64().filter(|_| units.wind).and_then(|ms| possible(3.6 * ms, &WIND_KMH)),
        cloud: now["cloud_area_fraction"]
            .as_f64()
            .filter(|_| units.cloud)
            .and_then(|percent| possible(percent / 100.0, &(0.0..=1.0))),
        rain_mm: rain_mm.filter(|_| units.rain),
    })
}
