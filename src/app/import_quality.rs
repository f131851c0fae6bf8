//! The quality of readings that are being imported: the source's own flags and our checks, made on
//! the file together with what is stored (`import_series`).

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use super::import_series::{Sum, add};
use crate::domain::civil::{LocalDays, end_of_day, start_of_day};
use crate::domain::{Quality, Quantity, Reading, ReadingTime, Slug, Watershed};
use crate::ingest::csv::readings::{FLAGGED_BY_SOURCE, ReadingRow};
use crate::model::quality::{InstantDoubts, out_of_range};
use crate::store::{Span, StoreError, Tx, reading};

/// Years of stored instants before those of the file that the checks look at.
const YEARS_BEFORE: i32 = 9;

/// The reason for a reading that its source gives no longer.
pub(super) const WITHDRAWN: &str = "the source gives it no longer";

/// What is stored of the gauges of a watershed, as far as the checks need it.
#[derive(Debug, Default)]
pub(super) struct Stored {
    pub(super) quantity: Quantity,
    /// Daily readings by gauge and date.
    pub(super) daily: Vec<HashMap<NaiveDate, Reading>>,
    /// Days made of stored instants of the years before the file, by gauge.
    pub(super) earlier: Vec<BTreeMap<NaiveDate, Sum>>,
    /// Stored instants since then, by gauge and in order: microseconds and value, of those that no source doubts.
    pub(super) instants: Vec<Vec<(i64, f64)>>,
    /// What was settled of these: doubted ones, and those that a keeper found good.
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
    let day = |year, month, day| NaiveDate::from_ymd_opt(year, month, day);
    let mut stored = Stored { quantity, ..Stored::default() };
    for gauge in gauges {
        let daily = reading::daily_readings_of(tx, &watershed.slug, gauge, quantity, None, Span::all()).await?;
        let dated = daily.into_iter().filter_map(|reading| match reading.time {
            ReadingTime::Day { date, .. } => Some((date, reading)),
            ReadingTime::Instant { .. } => None,
        });
        stored.daily.push(dated.collect());
        let (mut earlier, mut instants, mut settled) = (BTreeMap::new(), Vec::new(), HashMap::new());
        if let Some((first, last)) = years {
            let first_day = day(first, 1, 1).unwrap_or(NaiveDate::MIN);
            let from = day(first - YEARS_BEFORE, 1, 1).map(|day| start_of_day(zone, day));
            let span = Span { from, to: day(last, 12, 31).map(|day| end_of_day(zone, day)) };
            let days = LocalDays::new(zone);
            let (earlier, instants, settled) = (&mut earlier, &mut instants, &mut settled);
            // One by one, so that a long series never stands in memory as a whole.
            let mut take = move |reading: Reading| {
                let ReadingTime::Instant { at, value } = reading.time else { return };
                if by_source(&reading) {
                    return;
                }
                let date = days.date(at);
                if date < first_day {
                    add(earlier, date, value);
                    return;
                }
                instants.push((at.timestamp_micros(), value));
                if !reading.reasons.is_empty() && !came_back(&reading) {
                    let Reading { quality, reasons, .. } = reading;
                    settled.insert(at.timestamp_micros(), Settled { value, quality, reasons });
                }
            };
            reading::each_instant_of(tx, &watershed.slug, gauge, quantity, None, span, &mut take).await?;
        }
        stored.earlier.push(earlier);
        stored.instants.push(instants);
        stored.settled.push(settled);
    }
    Ok(stored)
}

/// Why days of the file are doubted.
#[derive(Debug)]
pub(super) struct Verdicts {
    pub(super) doubts: HashMap<(usize, NaiveDate), String>,
    /// By gauge.
    pub(super) doubted_instants: Vec<InstantDoubts>,
    pub(super) stored: Stored,
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
        let date = row.date;
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
                let doubted = || Some(self.doubted_instants.get(gauge)?.of(at)?.1);
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

pub(super) fn by_source(reading: &Reading) -> bool {
    reading.reasons.iter().any(|reason| reason.starts_with(FLAGGED_BY_SOURCE))
}
