//! The addresses that services are asked at.

use chrono::NaiveDate;
use reqwest::Url;

/// Most rows asked for at once: the most that the continuous collection allows.
pub const USGS_ROWS: u32 = 10_000;
/// Most rows that Hub'Eau gives of one question, all its pages together.
pub const HUBEAU_ROWS: u64 = 20_000;
/// Rows asked for at once of a SensorThings server.
const THINGS_ROWS: u32 = 1000;

fn with(base: &str, pairs: &[(&str, &str)]) -> Option<String> {
    let mut url = Url::parse(base).ok()?;
    url.query_pairs_mut().extend_pairs(pairs);
    Some(url.into())
}

/// Daily or continuous values of a station from `from` through `to`; `None` when `base` is no address.
///
/// Version 0 names the span `time`, version 1 `datetime`.
#[must_use]
pub fn usgs(base: &str, station: &str, continuous: bool, from: NaiveDate, to: NaiveDate) -> Option<String> {
    let (collection, span) = if continuous {
        ("continuous", format!("{from}T00:00:00Z/{to}T23:59:59Z"))
    } else {
        ("daily", format!("{from}/{to}"))
    };
    let span_key = if base.trim_end_matches('/').ends_with("/v0") { "time" } else { "datetime" };
    let pairs = [
        ("f", "json"),
        ("monitoring_location_id", station),
        ("parameter_code", super::usgs::WATER_TEMPERATURE),
        (span_key, span.as_str()),
        ("skipGeometry", "true"),
        ("limit", &USGS_ROWS.to_string()),
    ];
    with(&format!("{base}/collections/{collection}/items"), &pairs)
}

/// Temperatures of a station from `from` through `to`, whole days.
#[must_use]
pub fn hubeau(base: &str, station: &str, from: NaiveDate, to: NaiveDate) -> Option<String> {
    let (from, to, size) = (from.to_string(), to.to_string(), HUBEAU_ROWS.to_string());
    let pairs = [
        ("code_station", station),
        ("date_debut_mesure", &from),
        ("date_fin_mesure", &to),
        ("sort", "asc"),
        ("size", &size),
    ];
    with(&format!("{base}/chronique"), &pairs)
}

/// The one document of a station.
#[must_use]
pub fn smhi(base: &str, station: &str) -> Option<String> {
    with(&format!("{base}/parameter/4/station/{station}/period/corrected-archive/data.json"), &[])
        .map(|url| url.trim_end_matches('?').to_owned())
}

/// What the National Weather Service knows of a place `LATITUDE,LONGITUDE`; it leads to the place's grid.
#[must_use]
pub fn nws(base: &str, place: &str) -> Option<String> {
    Url::parse(&format!("{base}/points/{place}")).ok().map(String::from)
}

/// The forecast of MET Norway for a place `LATITUDE,LONGITUDE`.
#[must_use]
pub fn met_norway(base: &str, place: &str, altitude_m: Option<i32>) -> Option<String> {
    let (latitude, longitude) = place.split_once(',')?;
    let altitude = altitude_m.map(|metres| metres.to_string());
    let mut pairs = vec![("lat", latitude), ("lon", longitude)];
    pairs.extend(altitude.as_deref().map(|metres| ("altitude", metres)));
    with(&format!("{base}/compact"), &pairs)
}

/// Observations of a datastream from the beginning of `from` on, to the end of `to` where it is given.
#[must_use]
pub fn sensorthings(datastream: &str, from: NaiveDate, to: Option<NaiveDate>) -> Option<String> {
    let end = to.and_then(|to| to.succ_opt()).map(|end| format!(" and phenomenonTime lt {end}T00:00:00Z"));
    let filter = format!("phenomenonTime ge {from}T00:00:00Z{}", end.unwrap_or_default());
    let rows = THINGS_ROWS.to_string();
    let pairs = [("$filter", filter.as_str()), ("$orderby", "phenomenonTime asc"), ("$top", &rows)];
    with(&format!("{datastream}/Observations"), &pairs)
}
