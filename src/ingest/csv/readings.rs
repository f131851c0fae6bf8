//! Readings of one quantity: `site,date,tmean_c[,tmin_c,tmax_c,flag,known_at]` by local calendar day, or
//! `site,at,value_c[,flag,known_at]` by instant, for temperatures in degrees Celsius. Other quantities have
//! their unit in the names of the values, as `mean_m3_s` and `value_m3_s` ([`Quantity::names`]).

use std::hash::{BuildHasher as _, RandomState};
use std::io::{Read, Seek};

use chrono::{DateTime, Datelike as _, Days, NaiveDate, TimeDelta, Utc};

use super::columns::{Column, ColumnNames};
use super::fahrenheit::fahrenheit;
use super::passes::{Checked, changed};
use super::repeats::{InOrder, Seen};
use super::scan::{Scan, scan};
use super::table::Table;
use super::value_map::ValueMap;
use super::values::{Fields, Names};
use crate::domain::civil::LocalDays;
use crate::domain::{Invalid, Quality, Quantity, Reading, ReadingTime, Slug};
use crate::ingest::faults::{Fault, FaultKind, Faults};

pub use super::values::Calendar;

/// Most rows of one file.
pub const MAX_ROWS: u64 = 1_000_000;

const SITE: usize = 0;
const DATE: usize = 1;
pub(super) const TMEAN: usize = 2;
pub(super) const TMIN: usize = 3;
pub(super) const TMAX: usize = 4;
const AT: usize = 5;
pub(super) const VALUE: usize = 6;
const FLAG: usize = 7;
const KNOWN: usize = 8;

/// The columns of a file of `quantity`.
fn columns(quantity: Quantity) -> [Column; 9] {
    let column = |name| Column { name, aliases: &[] };
    let names = quantity.names();
    [
        Column { name: "site", aliases: &["gauge"] },
        column("date"),
        column(names.mean),
        column(names.low),
        column(names.high),
        column("at"),
        column(names.value),
        column("flag"),
        column("known_at"),
    ]
}

/// One row, small because there may be a million of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadingRow {
    /// Position in [`Readings::gauges`].
    pub gauge: u32,
    /// What it states.
    pub time: ReadingTime,
    /// The local day it is about.
    pub date: NaiveDate,
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
    pub fn reading(&self, gauges: &[Slug], quantity: Quantity, source: &str) -> Option<Reading> {
        let quality = self.flag.unwrap_or(Quality::Good);
        let reasons = match quality {
            Quality::Good => Vec::new(),
            other => vec![format!("{FLAGGED_BY_SOURCE} {}", other.as_str())],
        };
        Some(Reading {
            gauge: gauges.get(self.gauge as usize)?.clone(),
            quantity,
            time: self.time,
            quality,
            reasons,
            known_at: self.known_at,
            known_assumed: self.known_assumed,
            source: source.to_owned(),
            qualifiers: Vec::new(),
        })
    }

    /// What makes two rows of one file the same reading.
    fn key(&self) -> Key {
        let time = self.number();
        // Counted from the least number, so that keys sort as times do.
        let time = time.wrapping_sub(i64::MIN) as u64;
        [self.gauge, (time >> 32) as u32, time as u32]
    }

    /// The number of its day since 1970-01-01, or of its microsecond.
    fn number(&self) -> i64 {
        match self.time {
            ReadingTime::Day { date, .. } => (date - NaiveDate::default()).num_days(),
            ReadingTime::Instant { at, .. } => at.timestamp_micros(),
        }
    }
}

/// How the reason begins that a source's own flag gives.
pub const FLAGGED_BY_SOURCE: &str = "flagged by the source as";

/// How a file of readings is to be understood.
#[derive(Debug, Clone)]
pub struct Readings {
    /// Gauges that it may speak of.
    pub gauges: Vec<Slug>,
    /// Today and the time zone.
    pub calendar: Calendar,
    /// Names of columns where the file has others.
    pub names: ColumnNames,
    /// Codes, letters and labels of the file.
    pub values: ValueMap,
    /// What its readings state.
    pub quantity: Quantity,
    columns: [Column; 9],
    /// Marks what a row says. The same in all passes over a file, another in each process.
    marks: RandomState,
}

/// A checked file of readings.
#[derive(Debug, Clone, Default)]
pub struct CheckedReadings {
    /// What was found.
    pub file: Checked,
    /// The first and the last local year of the rows that are to be used.
    pub years: Option<(i32, i32)>,
    /// True when the rows of each gauge follow each other in time.
    pub in_order: bool,
    scan: Scan,
}

/// Gauge, and the number of a row's time in two halves: so it takes twelve bytes and not sixteen.
type Key = [u32; 3];

impl Readings {
    /// Readings of `quantity` at `gauges`.
    #[must_use]
    pub fn new(
        quantity: Quantity,
        gauges: Vec<Slug>,
        calendar: Calendar,
        names: ColumnNames,
        values: ValueMap,
    ) -> Self {
        Self { gauges, calendar, names, values, quantity, columns: columns(quantity), marks: RandomState::new() }
    }

    /// Reads all of `file` and finds what is wrong, keeping nothing of a row while rows follow each other in time,
    /// and 32 bytes otherwise.
    ///
    /// A row without any value says nothing and counts as repeated. When the result has fatal
    /// faults no row of the file may be used.
    #[must_use]
    pub fn check(&self, file: &mut (impl Read + Seek)) -> CheckedReadings {
        let checked = scan(file, MAX_ROWS).map_err(Faults::from).and_then(|scan| {
            // The scan leaves the file at its first row.
            if let Some(checked) = self.check_in_order(file, &scan)? {
                return Ok(checked);
            }
            rewind(&scan, file)?;
            self.check_in_any_order(file, &scan)
        });
        checked
            .unwrap_or_else(|faults| CheckedReadings { file: Checked::refused(faults), ..CheckedReadings::default() })
    }

    /// `None` when rows do not follow each other in time, or contradict each other.
    fn check_in_order(&self, file: &mut (impl Read + Seek), scan: &Scan) -> Result<Option<CheckedReadings>, Faults> {
        let (mut table, instants) = self.open(file, scan)?;
        let mut checked = begun(&table, instants);
        let mut rows = InOrder::of(self.gauges.len());
        let (mut in_order, mut span) = (true, None);
        checked.count(&mut table, self.reader(instants), |line, row| {
            in_order = rows.add(line, row.gauge as usize, row.number(), self.mark(&row));
            widen(&mut span, row.number());
            in_order
        });
        checked.settle(rows.settle());
        let years = self.years(instants, span);
        Ok(in_order.then(|| CheckedReadings { file: checked, years, in_order, scan: scan.clone() }))
    }

    fn check_in_any_order(&self, file: &mut (impl Read + Seek), scan: &Scan) -> Result<CheckedReadings, Faults> {
        let (mut table, instants) = self.open(file, scan)?;
        let mut checked = begun(&table, instants);
        let mut seen = Seen::with_room(table.rows_left());
        checked.count(&mut table, self.reader(instants), |line, row| {
            let shown = match row.time {
                ReadingTime::Day { mean, .. } => mean,
                ReadingTime::Instant { value, .. } => value,
            };
            seen.add(line, row.key(), self.mark(&row), shown);
            true
        });
        let column = table.name(if instants { VALUE } else { TMEAN }).unwrap_or("file").to_owned();
        let fault = |first: u32, line: u32, shown: f64| {
            let reason = format!("line {first} says something else of the same gauge and time");
            Fault::new(u64::from(line), &column, &shown.to_string(), FaultKind::Conflict, reason)
        };
        let mut span = None;
        let settled = seen.settle(&mut checked.faults, fault, |[_, high, low]| {
            widen(&mut span, (i64::from(high) << 32 | i64::from(low)).wrapping_add(i64::MIN));
        });
        checked.settle(settled);
        let years = self.years(instants, span);
        Ok(CheckedReadings { file: checked, years, in_order: false, scan: scan.clone() })
    }

    /// Reads a `checked` file again and gives `take` the rows that are to be used, until it says no.
    ///
    /// # Errors
    /// A [`Fault`] when the file was changed meanwhile; what was given must then not be used.
    pub fn give(
        &self,
        file: &mut (impl Read + Seek),
        checked: &CheckedReadings,
        take: impl FnMut(ReadingRow) -> bool,
    ) -> Result<(), Fault> {
        rewind(&checked.scan, file)?;
        let (mut table, instants) = self.open(file, &checked.scan).map_err(|_| changed())?;
        checked.file.give(&mut table, self.reader(instants), |row| self.mark(row), take)
    }

    /// Opens the file, which stands at its first row, and tells whether it is of the form by instant.
    fn open<'s, R: Read + Seek>(
        &'s self,
        file: &'s mut R,
        scan: &Scan,
    ) -> Result<(Table<'s, &'s mut R>, bool), Faults> {
        let table = Table::open_scanned(file, scan, &self.columns, &self.names, &self.values)?;
        let instants = !table.has(DATE) && (table.has(AT) || table.has(VALUE));
        if self.quantity.is_temperature()
            && let Some(fault) = fahrenheit(&table)
        {
            return Err(fault.into());
        }
        table.need(if instants { &[SITE, AT, VALUE] } else { &[SITE, DATE, TMEAN] })?;
        Ok((table, instants))
    }

    fn reader(&self, instants: bool) -> impl Fn(&mut Fields<'_>) -> Option<ReadingRow> {
        let (names, calendar, quantity) = (Names::new("gauge", &self.gauges), self.calendar, self.quantity);
        let days = LocalDays::new(calendar.time_zone);
        move |fields| {
            if instants {
                instant_row(fields, &names, calendar, &days, quantity)
            } else {
                day_row(fields, &names, calendar, &days, quantity)
            }
        }
    }

    /// A number that is the same for rows that say the same.
    fn mark(&self, row: &ReadingRow) -> u64 {
        let values = match row.time {
            ReadingTime::Day { mean, low, high, .. } => [mean, low, high],
            ReadingTime::Instant { value, .. } => [value; 3],
        };
        self.marks.hash_one((row.key(), values.map(f64::to_bits), row.flag, row.known_at, row.known_assumed))
    }

    /// First and last local year of a span of numbers.
    fn years(&self, instants: bool, span: Option<(i64, i64)>) -> Option<(i32, i32)> {
        let (first, last) = span?;
        Some((self.year(instants, first)?, self.year(instants, last)?))
    }

    /// The local year of a row's time, from its number.
    fn year(&self, instants: bool, number: i64) -> Option<i32> {
        let date = if instants {
            DateTime::from_timestamp_micros(number)?.with_timezone(&self.calendar.time_zone).date_naive()
        } else {
            NaiveDate::default().checked_add_signed(TimeDelta::try_days(number)?)?
        };
        Some(date.year())
    }
}

/// Begins a check with the columns that mean nothing here.
fn begun<R: Read + Seek>(table: &Table<'_, R>, instants: bool) -> Checked {
    let mut unknown_columns = table.unknown_columns();
    let other_form: &[usize] = if instants { &[TMEAN, TMIN, TMAX] } else { &[AT, VALUE] };
    unknown_columns.extend(other_form.iter().filter_map(|at| table.name(*at)).map(str::to_owned));
    Checked::begun(unknown_columns)
}

fn rewind(scan: &Scan, file: &mut impl Seek) -> Result<(), Fault> {
    match scan.rewind(file) {
        Ok(true) => Ok(()),
        _ => Err(changed()),
    }
}

fn widen(span: &mut Option<(i64, i64)>, number: i64) {
    *span = Some(span.map_or((number, number), |(first, last)| (first.min(number), last.max(number))));
}

/// A row of the daily form; `None` without a fault when it has no value.
fn day_row(
    fields: &mut Fields<'_>,
    gauges: &Names,
    calendar: Calendar,
    days: &LocalDays,
    quantity: Quantity,
) -> Option<ReadingRow> {
    let gauge = fields.known(SITE, gauges);
    let date = if fields.need(DATE).is_some() { fields.date(DATE, calendar) } else { None };
    let flag = fields.word(FLAG, Quality::parse);
    if [TMEAN, TMIN, TMAX].iter().all(|at| fields.row.get(*at).is_none()) {
        return None;
    }
    fields.need(TMEAN);
    let mean = fields.any_number(TMEAN);
    let (low, high) = (fields.any_number(TMIN), fields.any_number(TMAX));
    let date = date?;
    let known = fields.known_at(KNOWN, calendar, date, || days.end(date + Days::new(1)));
    if !fields.faults.is_empty() {
        return None;
    }
    let time = valid(fields, quantity, quantity.day(date, mean?, low, high))?;
    let (known_at, known_assumed) = known?;
    Some(ReadingRow { gauge: gauge?, time, date, flag, known_at, known_assumed })
}

/// A row of the form by instant; `None` without a fault when it has no value.
fn instant_row(
    fields: &mut Fields<'_>,
    gauges: &Names,
    calendar: Calendar,
    days: &LocalDays,
    quantity: Quantity,
) -> Option<ReadingRow> {
    let gauge = fields.known(SITE, gauges);
    let at = if fields.need(AT).is_some() { fields.instant(AT, calendar) } else { None };
    let flag = fields.word(FLAG, Quality::parse);
    fields.row.get(VALUE)?;
    let value = fields.any_number(VALUE);
    let at = at?;
    let date = days.date(at);
    let known = fields.known_at(KNOWN, calendar, date, || days.end(date + Days::new(1)));
    if !fields.faults.is_empty() {
        return None;
    }
    let time = valid(fields, quantity, quantity.instant(at, value?))?;
    let (known_at, known_assumed) = known?;
    Some(ReadingRow { gauge: gauge?, time, date, flag, known_at, known_assumed })
}

fn valid(fields: &mut Fields<'_>, quantity: Quantity, time: Result<ReadingTime, Invalid>) -> Option<ReadingTime> {
    let invalid = match time {
        Ok(time) => return Some(time),
        Err(invalid) => invalid,
    };
    let at = columns(quantity).iter().position(|column| column.name == invalid.field).unwrap_or(TMEAN);
    fields.bad(at, invalid.reason);
    None
}
