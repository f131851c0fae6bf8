//! Tab-separated tables ("RDB") of the United States Geological Survey's older water services, as kept
//! in files: comments, a header, a row of formats, then the rows.

use chrono::{FixedOffset, NaiveDate, NaiveDateTime, TimeDelta, TimeZone as _, Utc};
use serde_json::Value;

use super::page::{Asked, Measured, Page, PageFault, When, Why};
use super::usgs::{WATER_TEMPERATURE, quality, statistic_of};
use super::value::{self, Unit, water_c};

/// Abbreviations of time zones in such tables with their offsets from UTC, minutes.
const ZONES: [(&str, i32); 16] = [
    ("UTC", 0),
    ("GMT", 0),
    ("AST", -240),
    ("ADT", -180),
    ("EST", -300),
    ("EDT", -240),
    ("CST", -360),
    ("CDT", -300),
    ("MST", -420),
    ("MDT", -360),
    ("PST", -480),
    ("PDT", -420),
    ("AKST", -540),
    ("AKDT", -480),
    ("HST", -600),
    ("SST", -660),
];

/// A column of water temperatures and that of its marks.
struct Column {
    at: usize,
    marks_at: Option<usize>,
    series: String,
    statistic: Option<String>,
}

/// Reads one table, of daily values (`datetime` is a date) or instantaneous ones (with `tz_cd`). The
/// parameter's code is in the column's name and stands for degrees Celsius.
///
/// # Errors
/// [`PageFault`] when it is no such table.
pub fn page(bytes: &[u8], asked: &Asked<'_>) -> Result<Page, PageFault> {
    let text = value::text(bytes)?;
    let mut lines = text.lines().filter(|line| !line.starts_with('#') && !line.trim().is_empty());
    let header: Vec<&str> = lines.next().ok_or(PageFault::Form("there is no header"))?.split('\t').collect();
    let find = |name: &str| header.iter().position(|column| *column == name);
    let (Some(agency), Some(site), Some(time)) = (find("agency_cd"), find("site_no"), find("datetime")) else {
        return Err(PageFault::Form("the columns agency_cd, site_no and datetime are not all there"));
    };
    let formats = lines.next().ok_or(PageFault::Form("there is no row of formats"))?;
    if !formats.split('\t').all(is_format) || formats.split('\t').count() != header.len() {
        return Err(PageFault::Form("the second row is not one of formats"));
    }
    let (columns, others) = temperature_columns(&header);
    let zone = find("tz_cd");
    let mut rows = Vec::new();
    for line in lines {
        let cells: Vec<&str> = line.split('\t').collect();
        if cells.len() != header.len() {
            rows.push(Err(Why::Form));
            continue;
        }
        let station = (cells[agency], cells[site]);
        let when = (cells[time], zone.map(|at| cells[at]));
        rows.extend(columns.iter().map(|column| row(column, &cells, station, when, asked)));
        rows.extend(others.iter().map(|_| Err(Why::OtherQuantity)));
    }
    Ok(Page::of(rows))
}

fn is_format(text: &str) -> bool {
    text.strip_suffix(['s', 'd', 'n']).is_some_and(|digits| digits.bytes().all(|b| b.is_ascii_digit()))
}

/// The columns of water temperature, and the positions of values of other quantities.
fn temperature_columns(header: &[&str]) -> (Vec<Column>, Vec<usize>) {
    let (mut columns, mut others) = (Vec::new(), Vec::new());
    for (at, name) in header.iter().enumerate() {
        let parts: Vec<&str> = name.split('_').collect();
        let code = |text: &str| text.len() == 5 && text.bytes().all(|b| b.is_ascii_digit());
        let (series, parameter, statistic) = match parts.as_slice() {
            [series, parameter] if code(parameter) => (*series, *parameter, None),
            [series, parameter, statistic] if code(parameter) && code(statistic) => {
                (*series, *parameter, Some((*statistic).to_owned()))
            }
            _ => continue,
        };
        if parameter != WATER_TEMPERATURE {
            others.push(at);
            continue;
        }
        let marks_at = header.iter().position(|other| *other == format!("{name}_cd"));
        columns.push(Column { at, marks_at, series: series.to_owned(), statistic });
    }
    (columns, others)
}

fn row(
    column: &Column,
    cells: &[&str],
    (agency, site): (&str, &str),
    (time, zone): (&str, Option<&str>),
    asked: &Asked<'_>,
) -> Result<Measured, Why> {
    let is_it = |wanted: &str| wanted == site || wanted == format!("{agency}-{site}");
    if asked.station.is_some_and(|wanted| !is_it(wanted)) {
        return Err(Why::OtherStation);
    }
    let when = match zone {
        Some(zone) => When::Instant(instant(time, zone, asked)?),
        None => When::Day(value::date(time, asked)?, statistic_of(column.statistic.as_deref())?),
    };
    // A code such as Ice or Eqp may stand in place of the number.
    let number = value::number(&Value::from(cells[column.at]))?;
    let marks = column.marks_at.map_or("", |at| cells[at]);
    let qualifiers: Vec<String> = marks.split([':', ' ', ',']).filter_map(value::mark).collect();
    Ok(Measured {
        series: value::series(&format!("{site}_{}", column.series))?,
        when,
        value_c: water_c(number, Unit::Celsius)?,
        quality: quality(&qualifiers),
        qualifiers,
        changed_at: None,
    })
}

fn instant(time: &str, zone: &str, asked: &Asked<'_>) -> Result<chrono::DateTime<Utc>, Why> {
    let minutes = ZONES.iter().find(|(name, _)| *name == zone).map(|(_, minutes)| *minutes).ok_or(Why::Time)?;
    let offset = FixedOffset::east_opt(minutes * 60).ok_or(Why::Time)?;
    let clock = NaiveDateTime::parse_from_str(time, "%Y-%m-%d %H:%M").map_err(|_| Why::Time)?;
    // Far years would leave the range of instants when shifted.
    let in_range = (clock.date() - NaiveDate::default()).abs() < TimeDelta::days(400_000);
    let at = in_range.then(|| offset.from_local_datetime(&clock).single()).flatten().ok_or(Why::Time)?;
    value::past(at.to_utc(), asked.now)
}
