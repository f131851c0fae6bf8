//! Tables in the forms that imports read. Text is guarded against formulas; numbers are written from numbers.

use std::io::Write;

use chrono::{DateTime, NaiveTime, SecondsFormat, Utc};

use crate::domain::{AbundanceClass, Quality, Quantity, Reading, ReadingTime, Record, Rights, Stage};
use crate::ingest::csv::guard::guarded;

/// A column: its name, and what it says of a thing.
pub(super) type Column<T> = (&'static str, fn(&T) -> String);

/// Records.
pub(super) const RECORD: [Column<Record>; 18] = [
    ("site", |r| guarded(r.reach.as_str())),
    ("date_from", |r| cell_of(r.date_from)),
    ("date_to", |r| r.date_to.to_string()),
    ("taxon", |r| guarded(r.taxon.as_str())),
    ("count", |r| cell_of(r.count)),
    ("abundance_class", |r| cell_of(r.abundance_class.map(AbundanceClass::as_str))),
    ("kind", |r| r.kind.as_str().to_owned()),
    ("effort", |r| r.effort.to_string()),
    ("hour_start", |r| cell_of(r.hours.map(|(start, _)| clock(start)))),
    ("hour_end", |r| cell_of(r.hours.map(|(_, end)| clock(end)))),
    ("stage", |r| cell_of(r.stage.map(Stage::as_str))),
    ("brood", |r| cell_of(r.brood)),
    ("id", |r| guarded(r.external_id.as_deref().unwrap_or_default())),
    ("known_at", |r| known(r.known_at, r.known_assumed)),
    ("cloud", |r| cell_of(r.weather.cloud)),
    ("wind_kmh", |r| cell_of(r.weather.wind_kmh)),
    ("air_c", |r| cell_of(r.weather.air_c)),
    ("rain_mm", |r| cell_of(r.weather.rain_mm)),
];

/// Readings of `quantity` by day.
pub(super) fn day(quantity: Quantity) -> [Column<Reading>; 7] {
    let names = quantity.names();
    [
        ("site", |r| guarded(r.gauge.as_str())),
        ("date", |r| of_day(r, |date, _| date)),
        (names.mean, |r| of_day(r, |_, [mean, ..]| mean)),
        (names.low, |r| of_day(r, |_, [_, low, _]| low)),
        (names.high, |r| of_day(r, |_, [.., high]| high)),
        ("flag", flag),
        ("known_at", |r| known(r.known_at, r.known_assumed)),
    ]
}

/// Readings of `quantity` at instants.
pub(super) fn at_instants(quantity: Quantity) -> [Column<Reading>; 5] {
    [
        ("site", |r| guarded(r.gauge.as_str())),
        ("at", |r| match r.time {
            ReadingTime::Instant { at, .. } => instant(at),
            ReadingTime::Day { .. } => String::new(),
        }),
        (quantity.names().value, |r| match r.time {
            ReadingTime::Instant { value, .. } => value.to_string(),
            ReadingTime::Day { .. } => String::new(),
        }),
        ("flag", flag),
        ("known_at", |r| known(r.known_at, r.known_assumed)),
    ]
}

/// A cell that may be empty.
pub fn cell_of(value: Option<impl ToString>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

pub(super) fn clock(time: NaiveTime) -> String {
    time.format("%H:%M").to_string()
}

/// RFC 3339 with as many digits as there are.
pub(super) fn instant(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::AutoSi, true)
}

/// What was assumed is assumed again by an import.
fn known(at: DateTime<Utc>, assumed: bool) -> String {
    if assumed { String::new() } else { instant(at) }
}

fn of_day<T: ToString>(reading: &Reading, take: fn(chrono::NaiveDate, [f64; 3]) -> T) -> String {
    match reading.time {
        ReadingTime::Day { date, mean, low, high } => take(date, [mean, low, high]).to_string(),
        ReadingTime::Instant { .. } => String::new(),
    }
}

fn flag(reading: &Reading) -> String {
    if reading.quality == Quality::Good { String::new() } else { reading.quality.as_str().to_owned() }
}

/// Columns that stand after the others where something of the kind was said.
pub(super) const RIGHTS: [&str; 2] = ["licence", "citation"];

/// Writes a header and `rows`, each with the terms on which it may be passed on; their number.
pub(super) fn write_cited<'r, T>(
    out: impl Write,
    columns: &[Column<T>],
    rows: impl IntoIterator<Item = (&'r T, Option<&'r Rights>)>,
) -> Result<u64, csv::Error>
where
    T: 'r,
{
    let mut writer = csv::Writer::from_writer(out);
    writer.write_record(columns.iter().map(|(name, _)| *name).chain(RIGHTS))?;
    let written = cite(&mut writer, columns, rows)?;
    writer.flush()?;
    Ok(written)
}

/// The same without a header.
pub(super) fn append_cited<'r, T>(
    out: impl Write,
    columns: &[Column<T>],
    rows: impl IntoIterator<Item = (&'r T, Option<&'r Rights>)>,
) -> Result<u64, csv::Error>
where
    T: 'r,
{
    let mut writer = csv::Writer::from_writer(out);
    let written = cite(&mut writer, columns, rows)?;
    writer.flush()?;
    Ok(written)
}

fn cite<'r, T: 'r>(
    writer: &mut csv::Writer<impl Write>,
    columns: &[Column<T>],
    rows: impl IntoIterator<Item = (&'r T, Option<&'r Rights>)>,
) -> Result<u64, csv::Error> {
    let mut written = 0;
    for (row, rights) in rows {
        let said = |text: Option<&String>| guarded(text.map(String::as_str).unwrap_or_default());
        let more = [
            said(rights.and_then(|rights| rights.licence.as_ref())),
            said(rights.and_then(|rights| rights.citation.as_ref())),
        ];
        writer.write_record(columns.iter().map(|(_, cell)| cell(row)).chain(more))?;
        written += 1;
    }
    Ok(written)
}

/// Writes a header and `rows`; their number.
pub(super) fn write<T>(mut out: impl Write, columns: &[Column<T>], rows: &[T]) -> Result<u64, csv::Error> {
    let mut writer = csv::Writer::from_writer(&mut out);
    writer.write_record(columns.iter().map(|(name, _)| *name))?;
    writer.flush()?;
    drop(writer);
    append(out, columns, rows)
}

/// Writes `rows` without a header; their number.
pub(super) fn append<T>(out: impl Write, columns: &[Column<T>], rows: &[T]) -> Result<u64, csv::Error> {
    let mut writer = csv::Writer::from_writer(out);
    for row in rows {
        writer.write_record(columns.iter().map(|(_, cell)| cell(row)))?;
    }
    writer.flush()?;
    Ok(rows.len() as u64)
}
