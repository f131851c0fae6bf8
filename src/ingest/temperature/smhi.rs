//! Hydrological observations of the Swedish Meteorological and Hydrological Institute, parameter 4.
//!
//! One document per station and period, no pages. Its links point to an inner host and are not followed.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use serde_json::Value;

use super::page::{Asked, Measured, Page, PageFault, Statistic, When, Why};
use super::value::{self, Unit, unit, water_c};
use crate::domain::Quality;

/// Key of river temperature.
const RIVER_TEMPERATURE: &str = "4";
/// The clock of the stamps before UTC: Swedish summer time the whole year, as the heading of the
/// service's tables says ("Datum (svensk sommartid)").
const SUMMER_TIME: TimeDelta = TimeDelta::hours(2);

/// Reads one document.
///
/// A value is taken for the mean of the day that its stamp lies in by Swedish summer time, which the
/// stamps keep in winter too; the recorded documents have one such value a day and do not say more.
/// Values of two stamps within a day are refused: neither is said to be that of the day.
///
/// # Errors
/// [`PageFault`] when the answer as a whole is unusable.
pub fn page(bytes: &[u8], asked: &Asked<'_>) -> Result<Page, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let rows = body["value"].as_array().ok_or(PageFault::Form("there are no values"))?;
    let key = |holder: &str| match &body[holder]["key"] {
        Value::String(text) => text.clone(),
        Value::Number(number) => number.to_string(),
        _ => String::new(),
    };
    let (parameter, station) = (key("parameter"), key("station"));
    let scale = body["parameter"]["unit"].as_str().ok_or(Why::Unit).and_then(unit);
    let all_bad = if parameter != RIVER_TEMPERATURE {
        Some(Why::OtherQuantity)
    } else if asked.station.is_some_and(|wanted| wanted != station) {
        Some(Why::OtherStation)
    } else {
        scale.err()
    };
    let scale = scale.unwrap_or(Unit::Celsius);
    let mut stamps: BTreeMap<NaiveDate, BTreeSet<DateTime<Utc>>> = BTreeMap::new();
    for (at, date) in rows.iter().filter_map(|line| stamp(line, asked).ok()) {
        stamps.entry(date).or_default().insert(at);
    }
    Ok(Page::of(rows.iter().map(|line| match all_bad {
        Some(why) => Err(why),
        None => row(line, &station, scale, &stamps, asked),
    })))
}

/// The stamp of a row and its day.
fn stamp(row: &Value, asked: &Asked<'_>) -> Result<(DateTime<Utc>, NaiveDate), Why> {
    let millis = row["date"].as_i64().ok_or(Why::Time)?;
    let at = value::past(DateTime::from_timestamp_millis(millis).ok_or(Why::Time)?, asked.now)?;
    Ok((at, (at + SUMMER_TIME).date_naive()))
}

fn row(
    row: &Value,
    station: &str,
    scale: Unit,
    stamps: &BTreeMap<NaiveDate, BTreeSet<DateTime<Utc>>>,
    asked: &Asked<'_>,
) -> Result<Measured, Why> {
    let (_, date) = stamp(row, asked)?;
    let value_c = water_c(value::number(&row["value"])?, scale)?;
    // Over by both clocks, that of the stamps and that of the station.
    if date >= (asked.now + SUMMER_TIME).date_naive() {
        return Err(Why::Future);
    }
    let when = When::Day(value::past_date(date, asked)?, Statistic::Mean);
    if stamps.get(&date).is_some_and(|stamps| stamps.len() > 1) {
        return Err(Why::Conflict);
    }
    let qualifiers = value::marks(&row["quality"]);
    let series = value::series(station)?;
    Ok(Measured { series, when, value_c, quality: quality(&qualifiers), qualifiers, changed_at: None })
}

/// G checked, O not checked, Y doubted (from memory, no source here); any other letter is doubted too.
fn quality(marks: &[String]) -> Quality {
    match marks {
        [letter] if matches!(letter.as_str(), "G" | "O") => Quality::Good,
        _ => Quality::Suspect,
    }
}
