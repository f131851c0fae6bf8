//! Hydrological observations of the Swedish Meteorological and Hydrological Institute, parameter 4.
//!
//! One document per station and period, no pages. Its links point to an inner host and are not followed.

use chrono::{DateTime, NaiveTime};
use chrono_tz::Tz;
use serde_json::Value;

use super::page::{Asked, Measured, Page, PageFault, Statistic, When, Why};
use super::value::{self, Unit, unit, water_c};
use crate::domain::Quality;

/// Key of river temperature.
const RIVER_TEMPERATURE: &str = "4";

/// Reads one document.
///
/// A value stamped at Swedish midnight is taken for the mean of the day that begins then; the recorded
/// documents have one such value a day and do not say more. Any other stamp is an instant.
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
    Ok(Page::of(rows.iter().map(|line| match all_bad {
        Some(why) => Err(why),
        None => row(line, &station, scale, asked),
    })))
}

fn row(row: &Value, station: &str, scale: Unit, asked: &Asked<'_>) -> Result<Measured, Why> {
    let millis = row["date"].as_i64().ok_or(Why::Time)?;
    let at = value::past(DateTime::from_timestamp_millis(millis).ok_or(Why::Time)?, asked.now)?;
    let value_c = water_c(value::number(&row["value"])?, scale)?;
    let local = at.with_timezone(&Tz::Europe__Stockholm);
    let when =
        if local.time() == NaiveTime::MIN { When::Day(local.date_naive(), Statistic::Mean) } else { When::Instant(at) };
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
