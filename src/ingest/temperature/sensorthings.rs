//! Observations of any server of OGC SensorThings 1.1, as entities or as arrays with named components.

use chrono::TimeDelta;
use serde_json::Value;

use super::page::{Asked, Measured, Page, PageFault, Statistic, When, Why, next_on_same_host};
use super::value::{self, unit, water_c};

/// An interval up to this long stands for its middle.
const SHORT: TimeDelta = TimeDelta::hours(3);

/// What a datastream says of itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Datastream {
    /// Its name.
    pub name: String,
    /// Its unit, the first of symbol, name and definition that says degrees Celsius or Fahrenheit.
    pub unit: String,
}

/// Reads a datastream: its observations do not repeat the unit.
///
/// # Errors
/// [`PageFault`] when it has no unit of temperature or is no datastream.
pub fn datastream(bytes: &[u8]) -> Result<Datastream, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let measure = body["unitOfMeasurement"].as_object().ok_or(PageFault::Form("there is no unit of measurement"))?;
    let of_definition = |text: &str| text.rsplit(['/', '#', ':']).next().unwrap_or_default().to_owned();
    let symbol = measure.get("symbol").and_then(Value::as_str).map(str::to_owned);
    let name = measure.get("name").and_then(Value::as_str).map(str::to_owned);
    let definition = measure.get("definition").and_then(Value::as_str).map(of_definition);
    let found = [symbol, name, definition].into_iter().flatten().find(|text| unit(text).is_ok());
    let unit = found.ok_or(PageFault::Form("the unit of measurement is neither degrees Celsius nor Fahrenheit"))?;
    Ok(Datastream { name: value::short(body["name"].as_str().unwrap_or_default(), 200), unit })
}

/// Reads one page of `Datastreams(id)/Observations`, whose values are in `measured_in`.
///
/// A short interval stands for its middle; one of a day (23 to 25 hours) is the mean of the local day of
/// its middle; any other is refused.
///
/// # Errors
/// [`PageFault`] when the answer as a whole is unusable.
pub fn page(bytes: &[u8], measured_in: &str, asked: &Asked<'_>) -> Result<Page, PageFault> {
    let body = value::json(bytes)?;
    value::no_failure(&body)?;
    let list = body["value"].as_array().ok_or(PageFault::Form("there is no value"))?;
    let series = asked.station.unwrap_or("datastream");
    let mut rows = Vec::new();
    for item in list {
        match (&item["components"], &item["dataArray"]) {
            (Value::Array(names), Value::Array(lines)) => {
                let at = |name: &str| names.iter().position(|known| known == name);
                let (time, result, quality) = (at("phenomenonTime"), at("result"), at("resultQuality"));
                for line in lines {
                    let cell = |at: Option<usize>| at.map_or(&Value::Null, |at| &line[at]);
                    rows.push(row(series, cell(time), cell(result), cell(quality), measured_in, asked));
                }
            }
            (Value::Null, Value::Null) => {
                let (time, result, quality) = (&item["phenomenonTime"], &item["result"], &item["resultQuality"]);
                rows.push(row(series, time, result, quality, measured_in, asked));
            }
            _ => rows.push(Err(Why::Form)),
        }
    }
    let mut page = Page::of(rows);
    page.total = body["@iot.count"].as_u64();
    page.next = match &body["@iot.nextLink"] {
        Value::Null => None,
        Value::String(link) => Some(next_on_same_host(asked.url, link)?),
        _ => return Err(PageFault::Form("the address of the next page is no text")),
    };
    Ok(page)
}

fn row(
    series: &str,
    time: &Value,
    result: &Value,
    quality: &Value,
    measured_in: &str,
    asked: &Asked<'_>,
) -> Result<Measured, Why> {
    let when = when(time.as_str().ok_or(Why::Time)?, asked)?;
    let value_c = water_c(value::number(result)?, unit(measured_in)?)?;
    let qualifiers = value::marks(quality);
    let quality = value::quality_by_words(&qualifiers);
    Ok(Measured { series: value::series(series)?, when, value_c, quality, qualifiers, changed_at: None })
}

fn when(text: &str, asked: &Asked<'_>) -> Result<When, Why> {
    let Some((from, to)) = text.split_once('/') else {
        return Ok(When::Instant(value::instant(text, asked.now)?));
    };
    let (from, to) = (value::instant(from, asked.now)?, value::instant(to, asked.now)?);
    let (length, middle) = (to - from, from + (to - from) / 2);
    if length < TimeDelta::zero() {
        Err(Why::Time)
    } else if length <= SHORT {
        Ok(When::Instant(value::past(middle, asked.now)?))
    } else if (TimeDelta::hours(23)..=TimeDelta::hours(25)).contains(&length) {
        let date = middle.with_timezone(&asked.zone).date_naive();
        Ok(When::Day(value::past_date(date, asked)?, Statistic::Mean))
    } else {
        Err(Why::Time)
    }
}
