//! Water temperatures: `site,date,tmean_c[,tmin_c,tmax_c,flag,known_at]` by local calendar day, or
//! `site,at,value_c[,flag,known_at]` by instant. Degrees Celsius.

use std::io::{Read, Seek};

use chrono::{DateTime, Days, NaiveDate, Utc};

use super::Parsed;
use super::columns::{Column, ColumnNames};
use super::repeats::settle;
use super::table::Table;
use super::value_map::ValueMap;
use super::values::{Fields, Names};
use crate::domain::{Invalid, Quality, Reading, ReadingTime, Slug};
use crate::ingest::faults::{Fault, FaultKind};

pub use super::values::Calendar;

/// Most rows of one file.
pub const MAX_ROWS: u64 = 1_000_000;

const SITE: usize = 0;
const DATE: usize = 1;
const TMEAN: usize = 2;
const TMIN: usize = 3;
const TMAX: usize = 4;
const AT: usize = 5;
const VALUE: usize = 6;
const FLAG: usize = 7;
const KNOWN: usize = 8;
const COLUMNS: [Column; 9] = [
    Column { name: "site", aliases: &["gauge"] },
    Column { name: "date", aliases: &[] },
    Column { name: "tmean_c", aliases: &[] },
    Column { name: "tmin_c", aliases: &[] },
    Column { name: "tmax_c", aliases: &[] },
    Column { name: "at", aliases: &[] },
    Column { name: "value_c", aliases: &[] },
    Column { name: "flag", aliases: &[] },
    Column { name: "known_at", aliases: &[] },
];

/// One row, small because there may be a million of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingRow {
    /// Position in the gauges given to [`parse`].
    pub gauge: u32,
    /// What it states.
    pub time: ReadingTime,
    /// The source's own flag, where it gave one.
    pub flag: Option<Quality>,
    /// When we learned it.
    pub known_at: DateTime<Utc>,
    /// True when that was assumed.
    pub known_assumed: bool,
}

impl ReadingRow {
    /// The reading, with the quality the source gave (good when it gave none).
    #[must_use]
    pub fn reading(&self, gauges: &[Slug], source: &str) -> Option<Reading> {
        let quality = self.flag.unwrap_or(Quality::Good);
        let reasons = match quality {
            Quality::Good => Vec::new(),
            other => vec![format!("{FLAGGED_BY_SOURCE} {}", other.as_str())],
        };
        Some(Reading {
            gauge: gauges.get(self.gauge as usize)?.clone(),
            time: self.time,
            quality,
            reasons,
            known_at: self.known_at,
            known_assumed: self.known_assumed,
            source: source.to_owned(),
        })
    }

    /// Number under which the row's time sorts and is one key: a day number or microseconds.
    fn time_key(&self) -> (bool, i64) {
        match self.time {
            ReadingTime::Day { date, .. } => (false, (date - NaiveDate::default()).num_days()),
            ReadingTime::Instant { at, .. } => (true, at.timestamp_micros()),
        }
    }
}

/// How the reason begins that a source's own flag gives.
pub const FLAGGED_BY_SOURCE: &str = "flagged by the source as";

/// Reads a file of readings of `gauges`.
///
/// A row without any temperature says nothing and counts as repeated. When the result has fatal
/// faults no row of it may be used.
#[must_use]
pub fn parse(
    reader: impl Read + Seek,
    gauges: &[Slug],
    calendar: Calendar,
    names: &ColumnNames,
    values: &ValueMap,
) -> Parsed<ReadingRow> {
    let mut table = match Table::open(reader, &COLUMNS, names, values, MAX_ROWS) {
        Ok(table) => table,
        Err(faults) => return Parsed::refused(faults),
    };
    let instants = !table.has(DATE) && (table.has(AT) || table.has(VALUE));
    if let Some(fault) = fahrenheit(&table) {
        return Parsed::refused(fault.into());
    }
    let needed: &[usize] = if instants { &[SITE, AT, VALUE] } else { &[SITE, DATE, TMEAN] };
    if let Err(faults) = table.need(needed) {
        return Parsed::refused(faults);
    }
    let mut unknown_columns = table.unknown_columns();
    let other_form: &[usize] = if instants { &[TMEAN, TMIN, TMAX] } else { &[AT, VALUE] };
    unknown_columns.extend(other_form.iter().filter_map(|at| table.name(*at)).map(str::to_owned));

    let gauge_names = Names::new("gauge", gauges);
    let mut parsed = Parsed { unknown_columns, ..Parsed::refused(crate::ingest::Faults::default()) };
    let mut raw = csv::StringRecord::new();
    while let Some(row) = table.read(&mut raw) {
        parsed.total += 1;
        let mut fields = match row {
            Ok(row) => Fields::new(row),
            Err(fault) => {
                parsed.rejected += 1;
                parsed.faults.push(fault);
                continue;
            }
        };
        let read = if instants {
            instant_row(&mut fields, &gauge_names, calendar)
        } else {
            day_row(&mut fields, &gauge_names, calendar)
        };
        match read {
            Some(row) if fields.faults.is_empty() => parsed.rows.push((fields.row.line, row)),
            None if fields.faults.is_empty() => parsed.repeated += 1,
            _ => {
                parsed.rejected += 1;
                fields.faults.into_iter().for_each(|fault| parsed.faults.push(fault));
            }
        }
    }
    let column = table.name(if instants { VALUE } else { TMEAN }).unwrap_or("file").to_owned();
    let key = |row: &ReadingRow| (row.gauge, row.time_key());
    settle(&mut parsed, key, PartialEq::eq, |first, line, row| {
        let reason = format!("line {first} says something else of the same gauge and time");
        let value = match row.time {
            ReadingTime::Day { tmean_c, .. } => tmean_c,
            ReadingTime::Instant { value_c, .. } => value_c,
        };
        Fault::new(u64::from(line), &column, &value.to_string(), FaultKind::Conflict, reason)
    });
    parsed
}

/// A row of the daily form; `None` without a fault when it has no temperature.
fn day_row(fields: &mut Fields<'_>, gauges: &Names, calendar: Calendar) -> Option<ReadingRow> {
    let gauge = fields.known(SITE, gauges);
    let date = if fields.need(DATE).is_some() { fields.date(DATE, calendar) } else { None };
    let flag = fields.word(FLAG, Quality::parse);
    if [TMEAN, TMIN, TMAX].iter().all(|at| fields.row.get(*at).is_none()) {
        return None;
    }
    fields.need(TMEAN);
    let tmean_c = fields.any_number(TMEAN);
    let (tmin_c, tmax_c) = (fields.any_number(TMIN), fields.any_number(TMAX));
    let date = date?;
    let known = fields.known_at(KNOWN, calendar, date, date + Days::new(1));
    if !fields.faults.is_empty() {
        return None;
    }
    let time = valid(fields, ReadingTime::day(date, tmean_c?, tmin_c, tmax_c))?;
    let (known_at, known_assumed) = known?;
    Some(ReadingRow { gauge: gauge?, time, flag, known_at, known_assumed })
}

/// A row of the form by instant; `None` without a fault when it has no temperature.
fn instant_row(fields: &mut Fields<'_>, gauges: &Names, calendar: Calendar) -> Option<ReadingRow> {
    let gauge = fields.known(SITE, gauges);
    let at = if fields.need(AT).is_some() { fields.instant(AT, calendar) } else { None };
    let flag = fields.word(FLAG, Quality::parse);
    fields.row.get(VALUE)?;
    let value_c = fields.any_number(VALUE);
    let at = at?;
    let date = at.with_timezone(&calendar.time_zone).date_naive();
    let known = fields.known_at(KNOWN, calendar, date, date + Days::new(1));
    if !fields.faults.is_empty() {
        return None;
    }
    let time = valid(fields, ReadingTime::instant(at, value_c?))?;
    let (known_at, known_assumed) = known?;
    Some(ReadingRow { gauge: gauge?, time, flag, known_at, known_assumed })
}

fn valid(fields: &mut Fields<'_>, time: Result<ReadingTime, Invalid>) -> Option<ReadingTime> {
    let invalid = match time {
        Ok(time) => return Some(time),
        Err(invalid) => invalid,
    };
    let at = COLUMNS.iter().position(|column| column.name == invalid.field).unwrap_or(TMEAN);
    fields.bad(at, invalid.reason);
    None
}

/// A fault when a temperature column says degrees Fahrenheit: one that would be read, or one that
/// stands where ours is missing.
fn fahrenheit<R: Read + Seek>(table: &Table<'_, R>) -> Option<Fault> {
    const TEMPERATURES: [usize; 4] = [TMEAN, TMIN, TMAX, VALUE];
    let read = TEMPERATURES.iter().filter_map(|at| table.name(*at)).find(|name| says_fahrenheit(name));
    let stands_in = || {
        let main = table.has(TMEAN) || table.has(VALUE);
        table.unknown_columns().into_iter().find(|name| {
            let name = name.to_lowercase();
            let instead = (name.contains("min") && !table.has(TMIN)) || (name.contains("max") && !table.has(TMAX));
            says_fahrenheit(&name) && (!main || instead)
        })
    };
    let found = read.map(str::to_owned).or_else(stands_in)?;
    let reason = "says degrees Fahrenheit; give degrees Celsius in columns named tmean_c, tmin_c, tmax_c or value_c";
    Some(table.header_fault(&found, FaultKind::Fahrenheit, reason))
}

/// True when a column name says degrees Fahrenheit: `tmean_f`, `temp (F)`, `°F`, `degF`, ...
fn says_fahrenheit(name: &str) -> bool {
    let name = name.to_lowercase();
    name.contains("fahrenheit")
        || name.contains('\u{2109}')
        || name.split(|c: char| !c.is_alphanumeric()).any(|word| matches!(word, "f" | "degf" | "degreesf" | "ºf"))
        || ["mean", "min", "max", "temp", "temperature"].iter().any(|stem| name.ends_with(&format!("{stem}f")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_that_say_fahrenheit() {
        for name in
            ["tmean_f", "Temp (F)", "\u{b0}F", "temp \u{b0}F", "water_degF", "Temperature [Fahrenheit]", "tmaxF"]
        {
            assert!(says_fahrenheit(name), "{name}");
        }
        for name in ["tmean_c", "flag", "mean_degC", "flow_cfs", "of", "temp (C)", "wtemp"] {
            assert!(!says_fahrenheit(name), "{name}");
        }
    }
}
