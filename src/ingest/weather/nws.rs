//! Grid forecasts of the United States National Weather Service.
//!
//! A point leads to its grid; the grid states runs, `start/duration`, of one value.

use chrono::{DateTime, TimeDelta, Utc};
use serde_json::Value;

use super::{AirAt, AirForecast, made_at};
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
    let rows = runs.iter().flat_map(|one| match run(one, unit, made) {
        Ok(hours) => hours.into_iter().map(Ok).collect(),
        Err(why) => vec![Err(why)],
    });
    Ok(AirForecast::of(made, rows))
}

fn run(run: &Value, unit: Result<value::Unit, Why>, made: DateTime<Utc>) -> Result<Vec<AirAt>, Why> {
    let (start, length) = run["validTime"].as_str().and_then(|text| text.split_once('/')).ok_or(Why::Time)?;
    let start = value::any_instant(start).ok_or(Why::Time)?;
    let hours = whole_hours(length).filter(|hours| (1..=LONGEST_RUN).contains(hours)).ok_or(Why::Time)?;
    within_reach(start, made)?;
    let air_c = value::water_c(value::number(&run["value"])?, unit?)?;
    Ok((0..hours).map(|hour| AirAt { at: start + TimeDelta::hours(hour), air_c }).collect())
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
