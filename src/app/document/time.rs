//! Instants and clock times on the wire.

use chrono::{DateTime, NaiveDate, NaiveTime, SubsecRound, Utc};
use serde::de::{Deserialize, Deserializer, Error};

/// Reads an optional RFC 3339 instant with any offset but `-00:00`, which RFC 3339 section 4.3
/// gives the meaning "offset unknown".
///
/// # Errors
/// When the text is not such an instant.
pub fn optional_instant<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<DateTime<Utc>>, D::Error> {
    Option::<String>::deserialize(deserializer)?
        .map(|text| instant(&text).ok_or_else(|| D::Error::custom("must be an RFC 3339 instant with an offset")))
        .transpose()
}

/// Reads an optional civil date written `YYYY-MM-DD`.
///
/// # Errors
/// When the value is not such a date.
pub fn optional_date<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<NaiveDate>, D::Error> {
    Option::<String>::deserialize(deserializer)?
        .map(|text| date(&text).ok_or_else(|| D::Error::custom("must be a date as YYYY-MM-DD")))
        .transpose()
}

/// Reads a civil date written `YYYY-MM-DD`; `None` when it is not one.
#[must_use]
pub fn date(text: &str) -> Option<NaiveDate> {
    let shaped = text.len() == 10 && text.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-');
    NaiveDate::parse_from_str(text, "%Y-%m-%d").ok().filter(|_| shaped)
}

/// Reads an RFC 3339 instant; `None` when it is not one.
#[must_use]
pub fn instant(text: &str) -> Option<DateTime<Utc>> {
    if text.ends_with("-00:00") {
        return None;
    }
    // Microseconds are what is stored; finer digits would make an identical report look changed.
    DateTime::parse_from_rfc3339(text).ok().map(|at| at.with_timezone(&Utc).trunc_subsecs(6))
}

/// `HH:MM` of a local clock time.
#[must_use]
pub fn hours_minutes(time: NaiveTime) -> String {
    time.format("%H:%M").to_string()
}
