//! Values of outside JSON and text, checked one by one.

use chrono::{DateTime, Datelike as _, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Utc};
use chrono_tz::Tz;
use serde_json::Value;

use super::page::{Asked, PageFault, Why};
use crate::domain::Quality;
use crate::domain::reading::{WATER_MAX_C, WATER_MIN_C};

/// Longest mark of a service that is kept, characters.
const MARK_MAX: usize = 80;
/// Most marks of one value that are kept.
const MARKS_MAX: usize = 8;
/// Longest identifier of a series, characters.
const SERIES_MAX: usize = 120;
/// First year of a measurement.
const FIRST_YEAR: i32 = 1850;
/// How far a clock of a service may be ahead of ours.
const AHEAD: TimeDelta = TimeDelta::minutes(10);

/// The answer as JSON.
pub(crate) fn json(bytes: &[u8]) -> Result<Value, PageFault> {
    let text = text(bytes)?;
    serde_json::from_str(text).map_err(|error| PageFault::NotJson(error.to_string()))
}

/// The answer as text, without a byte-order mark.
pub(crate) fn text(bytes: &[u8]) -> Result<&str, PageFault> {
    let text = std::str::from_utf8(bytes).map_err(|_| PageFault::NotUtf8)?;
    let text = text.trim_start_matches('\u{feff}').trim_start();
    if text.is_empty() {
        return Err(PageFault::Empty);
    }
    if text.starts_with('<') {
        return Err(PageFault::WebPage);
    }
    Ok(text)
}

/// Passes unless the answer is one of the forms in which services tell of a failure.
pub(crate) fn no_failure(body: &Value) -> Result<(), PageFault> {
    let word = |value: &Value| match value {
        Value::String(text) => Some(short(text, 200)),
        Value::Number(number) => Some(number.to_string()),
        _ => None,
    };
    let pairs = [("code", "description"), ("code", "message"), ("status", "detail"), ("status", "title")];
    for holder in [body, &body["error"]] {
        for (code, message) in pairs {
            if let (Some(code), Some(message)) = (word(&holder[code]), word(&holder[message])) {
                return Err(PageFault::Service { code, message });
            }
        }
    }
    Ok(())
}

/// The first `most` characters of `text`, without control characters.
pub(crate) fn short(text: &str, most: usize) -> String {
    text.chars().filter(|c| !c.is_control()).take(most).collect()
}

/// A number that a service sends as a number or as text.
pub(crate) fn number(value: &Value) -> Result<f64, Why> {
    let found = match value {
        Value::Null => return Err(Why::NoValue),
        Value::Number(number) => number.as_f64(),
        Value::String(text) if text.trim().is_empty() => return Err(Why::NoValue),
        Value::String(text) => text.trim().parse().ok(),
        _ => None,
    };
    found.filter(|value: &f64| value.is_finite()).ok_or(Why::NotANumber)
}

/// Scale of a unit of temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    Celsius,
    Fahrenheit,
}

/// Reads a unit; only what plainly says one of the two is taken.
pub(crate) fn unit(text: &str) -> Result<Unit, Why> {
    let word: String = text
        .replace("&#176;", "\u{b0}")
        .trim_start_matches("wmoUnit:")
        .trim_start_matches("unit:")
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '\u{b0}' | '_' | '.'))
        .collect::<String>()
        .to_ascii_lowercase();
    match word.as_str() {
        "c" | "\u{2103}" | "cel" | "celsius" | "degc" | "degcelsius" | "degreecelsius" | "degreescelsius" => {
            Ok(Unit::Celsius)
        }
        "f" | "\u{2109}" | "degf" | "fahrenheit" | "degfahrenheit" | "degreefahrenheit" | "degreesfahrenheit" => {
            Ok(Unit::Fahrenheit)
        }
        _ => Err(Why::Unit),
    }
}

/// A water temperature in degrees Celsius.
pub(crate) fn water_c(value: f64, unit: Unit) -> Result<f64, Why> {
    let celsius = match unit {
        Unit::Celsius => value,
        Unit::Fahrenheit => (value - 32.0) / 1.8,
    };
    // Tens of thousandths are finer than any sensor; the rest is noise of shorter floats.
    let rounded = (celsius * 1e4).round() / 1e4;
    if (WATER_MIN_C..=WATER_MAX_C).contains(&rounded) { Ok(rounded + 0.0) } else { Err(Why::OutOfRange) }
}

/// A civil date, past or to come.
pub(crate) fn any_date(text: &str) -> Result<NaiveDate, Why> {
    let shaped = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    shaped.then(|| text.parse().ok()).flatten().ok_or(Why::Time)
}

/// A civil date that is over where the station is.
pub(crate) fn date(text: &str, asked: &Asked<'_>) -> Result<NaiveDate, Why> {
    past_date(any_date(text)?, asked)
}

/// As [`date`], of a date. The value of a day that goes on is not yet that of the day.
pub(crate) fn past_date(date: NaiveDate, asked: &Asked<'_>) -> Result<NaiveDate, Why> {
    if date.year() < FIRST_YEAR {
        return Err(Why::TooOld);
    }
    let today = asked.now.with_timezone(&asked.zone).date_naive();
    if date >= today { Err(Why::Future) } else { Ok(date) }
}

/// An instant with its offset (RFC 3339, also with a space for the `T`) that is not to come.
pub(crate) fn instant(text: &str, now: DateTime<Utc>) -> Result<DateTime<Utc>, Why> {
    past(any_instant(text).ok_or(Why::Time)?, now)
}

/// An instant with its offset, past or to come.
pub(crate) fn any_instant(text: &str) -> Option<DateTime<Utc>> {
    (text.len() <= 40).then(|| DateTime::parse_from_rfc3339(text).ok()).flatten().map(|at| at.to_utc())
}

/// Refuses an instant that is to come or too old. Microseconds are kept, as in the store.
pub(crate) fn past(at: DateTime<Utc>, now: DateTime<Utc>) -> Result<DateTime<Utc>, Why> {
    if at.year() < FIRST_YEAR {
        Err(Why::TooOld)
    } else if at > now + AHEAD {
        Err(Why::Future)
    } else {
        DateTime::from_timestamp_micros(at.timestamp_micros()).ok_or(Why::Time)
    }
}

/// The instant of a clock reading in `zone`. What happens twice or never is refused: nothing says which.
pub(crate) fn local(date: NaiveDate, time: NaiveTime, zone: Tz, now: DateTime<Utc>) -> Result<DateTime<Utc>, Why> {
    let at = NaiveDateTime::new(date, time).and_local_timezone(zone).single().ok_or(Why::Time)?;
    past(at.to_utc(), now)
}

/// A mark of a service, cut and cleaned; none when empty.
pub(crate) fn mark(text: &str) -> Option<String> {
    let mark = short(text.trim(), MARK_MAX);
    (!mark.is_empty()).then_some(mark)
}

/// The texts in `value`, however deep: a text, a list, or an object as `key=text`.
pub(crate) fn marks(value: &Value) -> Vec<String> {
    let mut found = Vec::new();
    collect(value, "", &mut found);
    found.truncate(MARKS_MAX);
    found
}

fn collect(value: &Value, key: &str, found: &mut Vec<String>) {
    if found.len() >= MARKS_MAX {
        return;
    }
    let text = match value {
        Value::Null => return,
        Value::Array(list) => return list.iter().for_each(|item| collect(item, key, found)),
        Value::Object(map) => return map.iter().for_each(|(key, item)| collect(item, key, found)),
        Value::String(text) => text.clone(),
        Value::Bool(flag) => flag.to_string(),
        Value::Number(number) => number.to_string(),
    };
    if !text.trim().is_empty() {
        found.extend(mark(&if key.is_empty() { text } else { format!("{key}={text}") }));
    }
}

/// An identifier of a series.
pub(crate) fn series(text: &str) -> Result<String, Why> {
    let fine = !text.is_empty() && text.chars().count() <= SERIES_MAX && !text.chars().any(char::is_control);
    if fine { Ok(text.to_owned()) } else { Err(Why::Form) }
}

/// The worst of what marks say, by the words that any service uses for it.
pub(crate) fn quality_by_words(marks: &[String]) -> Quality {
    let says = |words: &[&str]| {
        marks.iter().any(|mark| {
            let mark = mark.to_lowercase();
            mark.split(|c: char| !c.is_alphanumeric()).any(|word| words.contains(&word))
        })
    };
    if says(&["bad", "wrong", "invalid", "rejected", "failed", "fail", "erroneous"]) {
        Quality::Bad
    } else if says(&["suspect", "questionable", "doubtful", "uncertain", "estimated"]) {
        Quality::Suspect
    } else {
        Quality::Good
    }
}

pub(crate) use super::page::next_on_same_host;
