//! The quality of readings that are being imported: the source's own flags and our checks, made on
//! the file together with what is stored.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use crate::domain::civil::{end_of_day, start_of_day};
use crate::domain::{Quality, Reading, ReadingTime, Slug, Watershed};
use crate::ingest::csv::readings::{FLAGGED_BY_SOURCE, ReadingRow};
use crate::model::quality::{Day, check, out_of_range};
use crate::store::{Span, StoreError, Tx, reading};

/// Years of stored instants before those of the file that the checks look at.
const YEARS_BEFORE: i32 = 9;

/// What is stored of the gauges of a watershed, as far as the checks need it.
#[derive(Debug, Default)]
pub(super) struct Stored {
    /// Daily readings by gauge and date.
    daily: Vec<HashMap<NaiveDate, Reading>>,
    /// Days made of stored instants, by gauge.
    from_instants: Vec<BTreeMap<NaiveDate, Sum>>,
}

/// Reads what is stored of `gauges`, with instants around the `years` of a file.
pub(super) async fn load(
    tx: &mut Tx,
    watershed: &Watershed,
    gauges: &[Slug],
    years: Option<(i32, i32)>,
) -> Result<Stored, StoreError> {
    let zone = watershed.time_zone;
    // Without a row there is no year to look at: the range is empty.
    let (first, last) = years.unwrap_or((0, -YEARS_BEFORE - 1));
    let years = first - YEARS_BEFORE..=last;
    let mut stored = Stored::default();
    for gauge in gauges {
        let daily = reading::daily_readings(tx, &watershed.slug, gauge, None, Span::all()).await?;
        let dated = daily.into_iter().filter_map(|reading| match reading.time {
            ReadingTime::Day { date, .. } => Some((date, reading)),
            ReadingTime::Instant { .. } => None,
        });
        stored.daily.push(dated.collect());
        let mut days = BTreeMap::new();
        // Year by year, so that a long series never stands in memory as a whole.
        for year in years.clone() {
            let day = |month, day| NaiveDate::from_ymd_opt(year, month, day);
            let (from, to) = (day(1, 1).map(|d| start_of_day(zone, d)), day(12, 31).map(|d| end_of_day(zone, d)));
            let span = Span { from, to };
            for reading in reading::instant_readings(tx, &watershed.slug, gauge, None, span).await? {
                if !by_source(&reading) {
                    add(&mut days, &reading.time, zone);
                }
            }
        }
        stored.from_instants.push(days);
    }
    Ok(stored)
}

/// Why days of the file are doubted.
#[derive(Debug)]
pub(super) struct Verdicts {
    doubts: HashMap<(usize, NaiveDate), String>,
    stored: Stored,
    zone: Tz,
}

/// The days of each gauge: what is stored, and over it the rows of a file.
#[derive(Debug)]
pub(super) struct Series {
    days: Vec<BTreeMap<NaiveDate, Day>>,
    from_instants: Vec<BTreeMap<NaiveDate, Sum>>,
    stored: Stored,
    zone: Tz,
}

impl Series {
    /// What is stored, of so many gauges.
    pub(super) fn over(stored: Stored, gauges: usize, zone: Tz) -> Self {
        let mut days: Vec<BTreeMap<NaiveDate, Day>> = Vec::with_capacity(gauges);
        for daily in &stored.daily {
            let good = daily.values().filter(|reading| !by_source(reading)).filter_map(|reading| day_of(&reading.time));
            days.push(good.map(|day| (day.date, day)).collect());
        }
        days.resize_with(gauges, BTreeMap::new);
        let mut from_instants = stored.from_instants.clone();
        from_instants.resize_with(gauges, BTreeMap::new);
        Self { days, from_instants, stored, zone }
    }

    /// Puts a row over what was known.
    pub(super) fn add(&mut self, row: &ReadingRow) {
        let gauge = row.gauge as usize;
        let doubted = row.flag.is_some_and(|flag| flag != Quality::Good);
        match day_of(&row.time) {
            Some(day) if doubted => drop(self.days[gauge].remove(&day.date)),
            Some(day) => drop(self.days[gauge].insert(day.date, day)),
            None if doubted => {}
            None => add(&mut self.from_instants[gauge], &row.time, self.zone),
        }
    }

    /// Makes the checks.
    pub(super) fn judge(self) -> Verdicts {
        let Self { mut days, from_instants, stored, zone } = self;
        for (days, sums) in days.iter_mut().zip(&from_instants) {
            for (date, sum) in sums {
                days.entry(*date).or_insert_with(|| sum.day(*date));
            }
        }
        let series: Vec<Vec<Day>> = days.into_iter().map(|days| days.into_values().collect()).collect();
        let doubts = check(&series).into_iter().map(|flag| ((flag.gauge, flag.date), flag.reason)).collect();
        Verdicts { doubts, stored, zone }
    }
}

impl Verdicts {
    /// The reading of a row with its quality and the reasons for it.
    ///
    /// A day that is stored with the same values keeps the quality it was given then, so that the
    /// same file changes nothing when it comes again after others.
    pub(super) fn reading(&self, row: &ReadingRow, gauges: &[Slug], source: &str) -> Option<Reading> {
        let mut reading = row.reading(gauges, source)?;
        if reading.quality != Quality::Good {
            return Some(reading);
        }
        let gauge = row.gauge as usize;
        let date = local_date(&row.time, self.zone);
        let known = self.stored.daily.get(gauge).and_then(|days| days.get(&date));
        if let Some(known) = known.filter(|known| known.time == row.time && !by_source(known)) {
            reading.quality = known.quality;
            reading.reasons.clone_from(&known.reasons);
            return Some(reading);
        }
        let impossible = match row.time {
            ReadingTime::Instant { value_c, .. } => out_of_range(value_c),
            ReadingTime::Day { .. } => None,
        };
        if let Some(reason) = impossible.or_else(|| self.doubts.get(&(gauge, date)).cloned()) {
            reading.quality = Quality::Suspect;
            reading.reasons.push(reason);
        }
        Some(reading)
    }
}

/// The local day a reading is about.
pub(super) fn local_date(time: &ReadingTime, zone: Tz) -> NaiveDate {
    match time {
        ReadingTime::Day { date, .. } => *date,
        ReadingTime::Instant { at, .. } => local(*at, zone),
    }
}

fn local(at: DateTime<Utc>, zone: Tz) -> NaiveDate {
    at.with_timezone(&zone).date_naive()
}

fn by_source(reading: &Reading) -> bool {
    reading.reasons.iter().any(|reason| reason.starts_with(FLAGGED_BY_SOURCE))
}

fn day_of(time: &ReadingTime) -> Option<Day> {
    match *time {
        ReadingTime::Day { date, tmean_c, tmin_c, tmax_c } => Some(Day { date, tmean_c, tmin_c, tmax_c }),
        ReadingTime::Instant { .. } => None,
    }
}

/// The instants of one day, °C. Impossible values are left out: they are doubted one by one.
#[derive(Debug, Clone, Copy)]
struct Sum {
    count: u32,
    total: f64,
    low: f64,
    high: f64,
}

impl Sum {
    fn day(self, date: NaiveDate) -> Day {
        Day { date, tmean_c: self.total / f64::from(self.count), tmin_c: self.low, tmax_c: self.high }
    }
}

fn add(days: &mut BTreeMap<NaiveDate, Sum>, time: &ReadingTime, zone: Tz) {
    let ReadingTime::Instant { at, value_c } = *time else { return };
    if out_of_range(value_c).is_some() {
        return;
    }
    let none = Sum { count: 0, total: 0.0, low: value_c, high: value_c };
    let sum = days.entry(local(at, zone)).or_insert(none);
    sum.count += 1;
    sum.total += value_c;
    sum.low = sum.low.min(value_c);
    sum.high = sum.high.max(value_c);
}
