//! The days and instants of each gauge that the checks of an import look at: what is stored, and over it the file.

use std::collections::{BTreeMap, HashMap};
use std::iter::Peekable;
use std::vec::IntoIter;

use chrono::{DateTime, NaiveDate};
use chrono_tz::Tz;

use super::import_quality::{Stored, Verdicts, by_source};
use crate::domain::civil::LocalDays;
use crate::domain::{Quality, Quantity, ReadingTime};
use crate::ingest::csv::readings::ReadingRow;
use crate::model::quality::{Day, InstantChecks, InstantDoubts, check, out_of_range};

/// In which order the rows of a gauge come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// Of time: then nothing is kept of an instant but what is doubted.
    OfTime,
    /// Any.
    Any,
}

/// The days and instants of each gauge: what is stored, and over it the rows of a file.
#[derive(Debug)]
pub(super) struct Series {
    days: Vec<BTreeMap<NaiveDate, Day>>,
    instants: Vec<Instants>,
    stored: Stored,
    order: Order,
}

impl Series {
    /// What is stored, of so many gauges. Rows will come in `order`.
    pub(super) fn over(mut stored: Stored, gauges: usize, zone: Tz, order: Order) -> Self {
        let mut days: Vec<BTreeMap<NaiveDate, Day>> = Vec::with_capacity(gauges);
        for daily in &stored.daily {
            let good = daily.values().filter(|reading| !by_source(reading)).filter_map(|reading| day_of(&reading.time));
            days.push(good.map(|day| (day.date, day)).collect());
        }
        days.resize_with(gauges, BTreeMap::new);
        let (mut known, mut earlier) = (std::mem::take(&mut stored.instants), std::mem::take(&mut stored.earlier));
        known.resize_with(gauges, Vec::new);
        earlier.resize_with(gauges, BTreeMap::new);
        let instants = known.into_iter().zip(earlier).map(|(known, sums)| Instants::over(known, sums, zone)).collect();
        Self { days, instants, stored, order }
    }

    /// Puts a row over what was known.
    pub(super) fn add(&mut self, row: &ReadingRow) {
        let gauge = row.gauge as usize;
        let doubted = row.flag.is_some_and(|flag| flag != Quality::Good);
        match row.time {
            ReadingTime::Instant { at, value } => {
                let (at, value) = (at.timestamp_micros(), (!doubted).then_some(value));
                match self.order {
                    Order::OfTime => self.instants[gauge].put(at, value),
                    Order::Any => self.instants[gauge].waiting.push((at, value)),
                }
            }
            ReadingTime::Day { .. } if doubted => drop(self.days[gauge].remove(&row.date)),
            ReadingTime::Day { .. } => self.days[gauge].extend(day_of(&row.time).map(|day| (day.date, day))),
        }
    }

    /// Makes the checks.
    pub(super) fn judge(self) -> Verdicts {
        let Self { mut days, instants, stored, .. } = self;
        let mut doubted_instants = Vec::with_capacity(instants.len());
        for (days, instants) in days.iter_mut().zip(instants) {
            let (sums, doubts) = instants.end();
            doubted_instants.push(doubts);
            for (date, sum) in sums {
                days.entry(date).or_insert_with(|| sum.day(date));
            }
        }
        // The checks know water; other quantities are judged by their own limits, one by one.
        if stored.quantity != Quantity::WaterTemperature {
            return Verdicts { doubts: HashMap::new(), doubted_instants: Vec::new(), stored };
        }
        let series: Vec<Vec<Day>> = days.into_iter().map(|days| days.into_values().collect()).collect();
        let doubts = check(&series).into_iter().map(|flag| ((flag.gauge, flag.date), flag.reason)).collect();
        Verdicts { doubts, doubted_instants, stored }
    }
}

/// The instants of one gauge: each time once, of what is stored and what the file says the latter.
#[derive(Debug)]
struct Instants {
    /// Stored ones that have not come yet, microseconds and °C, in order.
    stored: Peekable<IntoIter<(i64, f64)>>,
    /// Those of a file in any order; none for a value that its source doubts.
    waiting: Vec<(i64, Option<f64>)>,
    checks: InstantChecks,
    sums: BTreeMap<NaiveDate, Sum>,
    days: LocalDays,
}

impl Instants {
    fn over(stored: Vec<(i64, f64)>, sums: BTreeMap<NaiveDate, Sum>, zone: Tz) -> Self {
        let (stored, checks) = (stored.into_iter().peekable(), InstantChecks::default());
        Self { stored, waiting: Vec::new(), checks, sums, days: LocalDays::new(zone) }
    }

    /// Takes the next one of the file, and what is stored before it.
    fn put(&mut self, at: i64, value: Option<f64>) {
        while let Some((known_at, known)) = self.stored.next_if(|(known_at, _)| *known_at <= at) {
            if known_at < at {
                self.take(known_at, known);
            }
        }
        if let Some(value) = value {
            self.take(at, value);
        }
    }

    fn take(&mut self, at: i64, value: f64) {
        // Impossible values are doubted by themselves, and the good one after them is no step.
        if out_of_range(value).is_some() {
            return;
        }
        let Some(at) = DateTime::from_timestamp_micros(at) else { return };
        self.checks.push(at, value);
        add(&mut self.sums, self.days.date(at), value);
    }

    /// The days made of all instants, and which of these are doubted.
    fn end(mut self) -> (BTreeMap<NaiveDate, Sum>, InstantDoubts) {
        let mut waiting = std::mem::take(&mut self.waiting);
        // Stable: of two rows for one time the later in the file counts.
        waiting.sort_by_key(|(at, _)| *at);
        for (index, (at, value)) in waiting.iter().enumerate() {
            if waiting.get(index + 1).is_none_or(|(next, _)| next != at) {
                self.put(*at, *value);
            }
        }
        self.put(i64::MAX, None);
        (self.sums, self.checks.end())
    }
}

fn day_of(time: &ReadingTime) -> Option<Day> {
    match *time {
        ReadingTime::Day { date, mean: tmean_c, low: tmin_c, high: tmax_c } => {
            Some(Day { date, tmean_c, tmin_c, tmax_c })
        }
        ReadingTime::Instant { .. } => None,
    }
}

/// The instants of one day, °C.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sum {
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

/// Adds an instant to its day. Impossible values are left out: they are doubted one by one.
pub(super) fn add(days: &mut BTreeMap<NaiveDate, Sum>, date: NaiveDate, value_c: f64) {
    if out_of_range(value_c).is_some() {
        return;
    }
    let sum = days.entry(date).or_insert(Sum { count: 0, total: 0.0, low: value_c, high: value_c });
    sum.count += 1;
    sum.total += value_c;
    sum.low = sum.low.min(value_c);
    sum.high = sum.high.max(value_c);
}
