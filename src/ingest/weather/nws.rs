//! Grid forecasts of the United States National Weather Service.
//!
//! A point leads to its grid; the grid states runs, `start/duration`, of one value.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::Value;

use super::{AirForecast, RAIN_MM, WIND_KMH, made_at, possible};
use crate::domain::air::WeatherHour;
use crate::ingest::temperature::{PageFault, Why, value};

/// Longest run of one value that is taken, hours.
const LONGEST_RUN: i64 = 72;
/// How far from its making a forecast may reach, days.
const REACH: i64 = 30;

/// The address of the grid forecast of a point.
///
/// # Errors
/// [`PageFault`] when the answer has none on the host that was asked.
pub fn grid_address(bytes: &[u8], asked_url: &str) -> Result<String, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let link = body["properties"]["forecastGridData"].as_str();
    let link = link.ok_or(PageFault::Form("the point has no grid"))?;
    value::next_on_same_host(asked_url, link)
}

/// Reads a grid forecast, with runs expanded to full hours from their start.
///
/// # Errors
/// [`PageFault`] when the answer as a whole is unusable.
pub fn forecast(bytes: &[u8], now: DateTime<Utc>) -> Result<AirForecast, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let properties = &body["properties"];
    let runs = properties["temperature"]["values"].as_array().ok_or(PageFault::Form("there is no temperature"))?;
    let made = made_at(&properties["updateTime"], now)?;
    let unit = properties["temperature"]["uom"].as_str().ok_or(Why::Unit).and_then(value::unit);
    let beside = Beside {
        wind_kmh: by_hour(&properties["windSpeed"], "wmoUnit:km_h-1", made, &WIND_KMH, |value, _| value),
        cloud: by_hour(&properties["skyCover"], "wmoUnit:percent", made, &(0.0..=1.0), |value, _| value / 100.0),
        // An amount over the whole run.
        rain_mm: by_hour(&properties["quantitativePrecipitation"], "wmoUnit:mm", made, &RAIN_MM, |value, hours| {
            value / hours
        }),
    };
    let rows = runs.iter().flat_map(|one| match air(one, unit, made) {
        Ok(hours) => hours.into_iter().map(|(at, air_c)| Ok(beside.hour(at, air_c))).collect(),
        Err(why) => vec![Err(why)],
    });
    Ok(AirForecast::of(made, rows))
}

/// What is stated beside the temperature, by the hour.
struct Beside {
    wind_kmh: BTreeMap<DateTime<Utc>, f64>,
    cloud: BTreeMap<DateTime<Utc>, f64>,
    rain_mm: BTreeMap<DateTime<Utc>, f64>,
}

impl Beside {
    fn hour(&self, at: DateTime<Utc>, air_c: f64) -> WeatherHour {
        let of = |values: &BTreeMap<DateTime<Utc>, f64>| values.get(&at).copied();
        WeatherHour { at, air_c, wind_kmh: of(&self.wind_kmh), cloud: of(&self.cloud), rain_mm: of(&self.rain_mm) }
    }
}

/// Values of one element by the hour; none in another unit. `each` makes a value and its run's hours one hour's.
fn by_hour(
    element: &Value,
    unit: &str,
    made: DateTime<Utc>,
    range: &RangeInclusive<f64>,
    each: impl Fn(f64, f64) -> f64,
) -> BTreeMap<DateTime<Utc>, f64> {
    if element["uom"].as_str() != Some(unit) {
        return BTreeMap::new();
    }
    let runs = element["values"].as_array().map_or(&[][..], Vec::as_slice);
    let told = runs.iter().filter_map(|run| {
        let hours = hours_of(run, made).ok()?;
        let value = possible(each(run["value"].as_f64()?, hours.len() as f64), range)?;
        Some(hours.into_iter().map(move |at| (at, value)))
    });
    told.flatten().collect()
}

fn air(run: &Value, unit: Result<value::Unit, Why>, made: DateTime<Utc>) -> Result<Vec<(DateTime<Utc>, f64)>, Why> {
    let hours = hours_of(run, made)?;
    let air_c = value::water_c(value::number(&run["value"])?, unit?)?;
    Ok(hours.into_iter().map(|at| (at, air_c)).collect())
}

/// The full hours of a run, from its start.
fn hours_of(run: &Value, made: DateTime<Utc>) -> Result<Vec<DateTime<Utc>>, Why> {
    let (start, length) = run["validTime"].as_str().and_then(|text| text.split_once('/')).ok_or(Why::Time)?;
    let start = value::any_instant(start).ok_or(Why::Time)?;
    let hours = whole_hours(length).filter(|hours| (1..=LONGEST_RUN).contains(hours)).ok_or(Why::Time)?;
    within_reach(start, made)?;
    Ok((0..hours).map(|hour| start + TimeDelta::hours(hour)).collect())
}

/// The whole hours of an ISO 8601 duration in days, hours and minutes.
fn whole_hours(text: &str) -> Option<i64> {
    let (days, time) = text.strip_prefix('P')?.split_once('T').unwrap_or((text.strip_prefix('P')?, ""));
    let mut minutes: i64 = 0;
    for (part, units) in [(days, &[('D', 1440)][..]), (time, &[('H', 60), ('M', 1)][..])] {
        let mut rest = part;
        for (letter, worth) in units {
            if let Some((count, after)) = rest.split_once(*letter) {
                let count: i64 = (count.len() <= 4).then(|| count.parse::<u16>().ok()).flatten()?.into();
                minutes += count * worth;
                rest = after;
            }
        }
        if !rest.is_empty() {
            return None;
        }
    }
    (minutes % 60 == 0).then_some(minutes / 60)
}

/// Refuses times that no forecast made at `made` can speak of.
pub(super) fn within_reach(at: DateTime<Utc>, made: DateTime<Utc>) -> Result<(), Why> {
    let away = at - made;
    if away > TimeDelta::days(REACH) {
        Err(Why::Future)
    } else if away < -TimeDelta::days(REACH) {
        Err(Why::TooOld)
    } else {
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::whole_hours;

    #[test]
    fn durations_are_read_to_the_hour() {
        for (text, hours) in [("PT1H", Some(1)), ("PT10H", Some(10)), ("P1D", Some(24)), ("P1DT6H", Some(30))] {
            assert_eq!(whole_hours(text), hours, "{text}");
        }
        for text in ["", "P", "PT", "PT30M", "PTH", "1H", "PT-1H", "PT99999H", "P1W", "PT1H2"] {
            assert!(whole_hours(text).is_none_or(|hours| hours == 0), "{text}");
        }
        assert_eq!(whole_hours("PT120M"), Some(2));
    }
}
