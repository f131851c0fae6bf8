//! The quality of readings that are being imported: the source's own flags and our checks, made on
//! the file together with what is stored.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use crate::domain::civil::{end_of_day, start_of_day};
use crate::domain::{Quality, Quantity, Reading, ReadingTime, Slug, Watershed};
use crate::ingest::csv::readings::{FLAGGED_BY_SOURCE, ReadingRow};
use crate::model::quality::{Day, check, check_instants, out_of_range};
use crate::store::{Span, StoreError, Tx, reading};

/// Years of stored instants before those of the file that the checks look at.
const YEARS_BEFORE: i32 = 9;

/// The reason for a reading that its source gives no longer.
pub(super) const WITHDRAWN: &str = "the source gives it no longer";

/// What is stored of the gauges of a watershed, as far as the checks need it.
#[derive(Debug, Default)]
pub(super) struct Stored {
    quantity: Quantity,
    /// Daily readings by gauge and date.
    daily: Vec<HashMap<NaiveDate, Reading>>,
    /// Days made of stored instants, by gauge.
    from_instants: Vec<BTreeMap<NaiveDate, Sum>>,
    /// Stored instants of the file's years, by gauge: microseconds and value, of those that no source doubts.
    instants: Vec<Vec<(i64, f64)>>,
    /// What was settled of stored instants: doubted ones, and those that a keeper found good.
    settled: Vec<HashMap<i64, Settled>>,
}

/// A stored instant whose quality is settled.
#[derive(Debug)]
struct Settled {
    value: f64,
    quality: Quality,
    reasons: Vec<String>,
}

/// Reads what is stored of `gauges`, with instants around the `years` of a file.
pub(super) async fn load(
    tx: &mut Tx,
    watershed: &Watershed,
    gauges: &[Slug],
    quantity: Quantity,
    years: Option<(i32, i32)>,
) -> Result<Stored, StoreError> {
    let zone = watershed.time_zone;
    // Without a row there is no year to look at: the range is empty.
    let (first, last) = years.unwrap_or((0, -YEARS_BEFORE - 1));
    let years = first - YEARS_BEFORE..=last;
    let mut stored = Stored { quantity, ..Stored::default() };
    for gauge in gauges {
        let daily = reading::daily_readings_of(tx, &watershed.slug, gauge, quantity, None, Span::all()).await?;
        let dated = daily.into_iter().filter_map(|reading| match reading.time {
            ReadingTime::Day { date, .. } => Some((date, reading)),
            ReadingTime::Instant { .. } => None,
        });
        stored.daily.push(dated.collect());
        let mut days = BTreeMap::new();
        let (mut instants, mut settled) = (Vec::new(), HashMap::new());
        // Year by year, so that a long series never stands in memory as a whole.
        for year in years.clone() {
            let day = |month, day| NaiveDate::from_ymd_opt(year, month, day);
            let (from, to) = (day(1, 1).map(|d| start_of_day(zone, d)), day(12, 31).map(|d| end_of_day(zone, d)));
            let span = Span { from, to };
            for reading in reading::instant_readings_of(tx, &watershed.slug, gauge, quantity, None, span).await? {
                if by_source(&reading) {
                    continue;
                }
                add(&mut days, &reading.time, zone);
                if let ReadingTime::Instant { at, value } = reading.time
                    && year >= first
                {
                    instants.push((at.timestamp_micros(), value));
                    if !reading.reasons.is_empty() && !came_back(&reading) {
                        let Reading { quality, reasons, .. } = reading;
                        settled.insert(at.timestamp_micros(), Settled { value, quality, reasons });
                    }
                }
            }
        }
        stored.from_instants.push(days);
        stored.instants.push(instants);
        stored.settled.push(settled);
    }
    Ok(stored)
}

/// Why days of the file are doubted.
#[derive(Debug)]
pub(super) struct Verdicts {
    doubts: HashMap<(usize, NaiveDate), String>,
    /// By gauge and microseconds.
    doubted_instants: HashMap<(usize, i64), String>,
    stored: Stored,
    zone: Tz,
}

/// The days of each gauge: what is stored, and over it the rows of a file.
#[derive(Debug)]
pub(super) struct Series {
    days: Vec<BTreeMap<NaiveDate, Day>>,
    from_instants: Vec<BTreeMap<NaiveDate, Sum>>,
    /// As in [`Stored`], those of the file after those that are stored.
    instants: Vec<Vec<(i64, f64)>>,
    stored: Stored,
    zone: Tz,
}

impl Series {
    /// What is stored, of so many gauges.
    pub(super) fn over(mut stored: Stored, gauges: usize, zone: Tz) -> Self {
        let mut days: Vec<BTreeMap<NaiveDate, Day>> = Vec::with_capacity(gauges);
        for daily in &stored.daily {
            let good = daily.values().filter(|reading| !by_source(reading)).filter_map(|reading| day_of(&reading.time));
            days.push(good.map(|day| (day.date, day)).collect());
        }
        days.resize_with(gauges, BTreeMap::new);
        let mut from_instants = stored.from_instants.clone();
        from_instants.resize_with(gauges, BTreeMap::new);
        let mut instants = std::mem::take(&mut stored.instants);
        instants.resize_with(gauges, Vec::new);
        Self { days, from_instants, instants, stored, zone }
    }

    /// Puts a row over what was known.
    pub(super) fn add(&mut self, row: &ReadingRow) {
        let gauge = row.gauge as usize;
        let doubted = row.flag.is_some_and(|flag| flag != Quality::Good);
        match day_of(&row.time) {
            Some(day) if doubted => drop(self.days[gauge].remove(&day.date)),
            Some(day) => drop(self.days[gauge].insert(day.date, day)),
            None if doubted => {}
            None => {
                add(&mut self.from_instants[gauge], &row.time, self.zone);
                if let ReadingTime::Instant { at, value } = row.time {
                    self.instants[gauge].push((at.timestamp_micros(), value));
                }
            }
        }
    }

    /// Makes the checks.
    pub(super) fn judge(self) -> Verdicts {
        let Self { mut days, from_instants, instants, stored, zone } = self;
        let knows_water = stored.quantity == Quantity::WaterTemperature;
        let mut doubted_instants = HashMap::new();
        for (gauge, list) in instants.into_iter().enumerate().filter(|_| knows_water) {
            let readings = in_order(list);
            for flag in check_instants(&readings) {
                doubted_instants.insert((gauge, readings[flag.index].0.timestamp_micros()), flag.reason);
            }
        }
        for (days, sums) in days.iter_mut().zip(&from_instants) {
            for (date, sum) in sums {
                days.entry(*date).or_insert_with(|| sum.day(*date));
            }
        }
        let series: Vec<Vec<Day>> = days.into_iter().map(|days| days.into_values().collect()).collect();
        // The checks know water; other quantities are judged by their own limits, one by one.
        let flags = if knows_water { check(&series) } else { Vec::new() };
        let doubts = flags.into_iter().map(|flag| ((flag.gauge, flag.date), flag.reason)).collect();
        Verdicts { doubts, doubted_instants, stored, zone }
    }
}

impl Verdicts {
    /// The reading of a row with its quality and the reasons for it.
    ///
    /// A day that is stored with the same values keeps the quality it was given then, so that the
    /// same file changes nothing when it comes again after others.
    pub(super) fn reading(&self, row: &ReadingRow, gauges: &[Slug], source: &str) -> Option<Reading> {
        let quantity = self.stored.quantity;
        let mut reading = row.reading(gauges, quantity, source)?;
        if reading.quality != Quality::Good {
            return Some(reading);
        }
        let gauge = row.gauge as usize;
        let date = local_date(&row.time, self.zone);
        let known = self.stored.daily.get(gauge).and_then(|days| days.get(&date));
        if let Some(known) = known.filter(|known| known.time == row.time && !by_source(known) && !came_back(known)) {
            reading.quality = known.quality;
            reading.reasons.clone_from(&known.reasons);
            return Some(reading);
        }
        if let ReadingTime::Instant { at, value } = row.time {
            let key = at.timestamp_micros();
            let settled = self.stored.settled.get(gauge).and_then(|settled| settled.get(&key));
            if let Some(settled) = settled.filter(|settled| settled.value == value) {
                reading.quality = settled.quality;
                reading.reasons.clone_from(&settled.reasons);
                return Some(reading);
            }
        }
        let impossible = match row.time {
            _ if quantity != Quantity::WaterTemperature => {
                let (low, high) = row.time.extremes();
                quantity.doubt(low).or_else(|| quantity.doubt(high))
            }
            ReadingTime::Instant { at, value } => {
                let doubted = || self.doubted_instants.get(&(gauge, at.timestamp_micros())).cloned();
                out_of_range(value).or_else(doubted)
            }
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

/// True when the source gave it no longer: what it gives now is judged anew.
fn came_back(reading: &Reading) -> bool {
    reading.reasons.iter().any(|reason| reason == WITHDRAWN)
}

/// Readings in order of time, each time once: of two the later in the list.
fn in_order(mut list: Vec<(i64, f64)>) -> Vec<(DateTime<Utc>, f64)> {
    list.sort_by_key(|(at, _)| *at);
    let mut readings: Vec<(DateTime<Utc>, f64)> = Vec::with_capacity(list.len());
    // Impossible values are doubted by themselves, and the good one after them is no step.
    for (at, value) in list.into_iter().filter(|(_, value)| out_of_range(*value).is_none()) {
        let Some(at) = DateTime::from_timestamp_micros(at) else { continue };
        match readings.last_mut() {
            Some(last) if last.0 == at => last.1 = value,
            _ => readings.push((at, value)),
        }
    }
    readings
}

fn by_source(reading: &Reading) -> bool {
    reading.reasons.iter().any(|reason| reason.starts_with(FLAGGED_BY_SOURCE))
}

fn day_of(time: &ReadingTime) -> Option<Day> {
    match *time {
        ReadingTime::Day { date, mean: tmean_c, low: tmin_c, high: tmax_c } => {
            Some(Day { date, tmean_c, tmin_c, tmax_c })
        }
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
    let ReadingTime::Instant { at, value: value_c } = *time else { return };
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
