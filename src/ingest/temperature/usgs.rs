//! Daily and continuous values of the United States Geological Survey's water data, as features of an
//! OGC API (version 0 and 1 send the same).

use serde_json::Value;

use super::page::{Asked, Measured, Page, PageFault, Statistic, When, Why, next_on_same_host};
use super::value::{self, unit, water_c};
use crate::domain::Quality;

/// Code of water temperature.
pub const WATER_TEMPERATURE: &str = "00010";

/// Marks that leave a value as good as it was.
const HARMLESS: [&str; 10] = ["a", "p", "approved", "provisional", "r", "revised", "working", "1", "2", "verified"];

/// Reads one page of `collections/daily/items` or `collections/continuous/items`.
///
/// A daily value is a mean, least or greatest; whatever has a time of day is an instant.
///
/// # Errors
/// [`PageFault`] when the answer as a whole is unusable.
pub fn page(bytes: &[u8], asked: &Asked<'_>) -> Result<Page, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let features = body["features"].as_array().ok_or(PageFault::Form("there are no features"))?;
    let mut page = Page::of(features.iter().map(|feature| row(&feature["properties"], asked)));
    page.next = next(&body, asked)?;
    page.total = body["numberMatched"].as_u64();
    Ok(page)
}

fn next(body: &Value, asked: &Asked<'_>) -> Result<Option<String>, PageFault> {
    let links = match &body["links"] {
        Value::Null => return Ok(None),
        Value::Array(links) => links,
        _ => return Err(PageFault::Form("the links are no list")),
    };
    let Some(link) = links.iter().find(|link| link["rel"] == "next") else { return Ok(None) };
    let href = link["href"].as_str().ok_or(PageFault::Form("the link to the next page has no address"))?;
    next_on_same_host(asked.url, href).map(Some)
}

fn row(row: &Value, asked: &Asked<'_>) -> Result<Measured, Why> {
    let text = |key: &str| row[key].as_str().ok_or(Why::Form);
    if text("parameter_code")? != WATER_TEMPERATURE {
        return Err(Why::OtherQuantity);
    }
    let station = text("monitoring_location_id")?;
    if asked.station.is_some_and(|wanted| !wanted.eq_ignore_ascii_case(station)) {
        return Err(Why::OtherStation);
    }
    let when = when(text("time")?, &row["statistic_id"], asked)?;
    let number = value::number(&row["value"])?;
    let value_c = water_c(number, unit(row["unit_of_measure"].as_str().ok_or(Why::Unit)?)?)?;
    let qualifiers = [value::marks(&row["approval_status"]), value::marks(&row["qualifier"])].concat();
    Ok(Measured {
        series: value::series(text("time_series_id")?)?,
        when,
        value_c,
        quality: quality(&qualifiers),
        qualifiers,
        changed_at: row["last_modified"].as_str().and_then(value::any_instant),
    })
}

fn when(time: &str, statistic: &Value, asked: &Asked<'_>) -> Result<When, Why> {
    if time.contains('T') {
        let at = value::instant(time, asked.now)?;
        return match statistic.as_str() {
            None | Some("00011") => Ok(When::Instant(at)),
            Some(_) => Err(Why::Statistic),
        };
    }
    let date = value::date(time, asked)?;
    Ok(When::Day(date, statistic_of(statistic.as_str())?))
}

/// The value of a day that a statistic code names.
pub(super) fn statistic_of(code: Option<&str>) -> Result<Statistic, Why> {
    match code {
        Some("00001") => Ok(Statistic::Max),
        Some("00002") => Ok(Statistic::Min),
        Some("00003") => Ok(Statistic::Mean),
        _ => Err(Why::Statistic),
    }
}

/// Good unless a mark says more than how far the review has come: ice, an instrument at fault, an
/// estimate. Unknown marks are held against the value.
pub(super) fn quality(marks: &[String]) -> Quality {
    let harmless = |mark: &String| HARMLESS.contains(&mark.to_ascii_lowercase().as_str());
    if marks.iter().all(harmless) { Quality::Good } else { Quality::Suspect }
}
