//! Storing readings in bulk, as versions.

use std::collections::{BTreeMap, HashMap};

use chrono::{DateTime, Utc};

use super::arg::{Arg, args, words};
use super::dialect::insert_many;
use super::keys::{Ids, lock_watershed};
use super::since::day_key;
use super::{Counts, StoreError, Tx, Upsert};
use crate::domain::{Quality, Quantity, Reading, ReadingTime, Slug};

/// Times compared with the stored ones at once; bounds the memory of a large import.
const CHUNK: usize = 5000;

/// Instants further apart are compared one after the other, so that what is stored between them is not read for
/// nothing, microseconds.
const APART_US: i64 = 2 * 3600 * 1_000_000;

/// Gauge, quantity, and whether daily or by instant.
type SeriesKey = (i64, Quantity, &'static str);

/// One stored version, as far as a new row is compared with it.
#[derive(Debug, Clone)]
struct Version {
    number: i64,
    known_at_us: i64,
    source: String,
    said: Said,
}

/// Whether a source that repeats itself speaks against what others said since.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Repeats {
    Speak,
    AreSilent,
}

/// What a reading states.
#[derive(Debug, Clone)]
struct Said {
    value: f64,
    low: Option<f64>,
    high: Option<f64>,
    quality: Quality,
    qualifiers: Vec<String>,
}

impl Said {
    /// True when `new` says nothing else. A sender without marks does not speak against those there are.
    fn covers(&self, new: &Self) -> bool {
        let same = |marks: &[String]| new.qualifiers.is_empty() || marks == new.qualifiers;
        (self.value, self.low, self.high, self.quality) == (new.value, new.low, new.high, new.quality)
            && same(&self.qualifiers)
    }
}

/// Stores readings of gauges of `watershed`.
///
/// A reading is *created* when its gauge has none for that day or instant. It is *unchanged* when
/// the version that was known at its `known_at` says the same, or when its `known_at` is merely
/// assumed and the latest version says the same; so the same file, or an overlapping fetch, can be
/// put in again. Anything else is an *updated* reading: a new version, the old ones kept. A
/// correction whose `known_at` is assumed counts as known no earlier than what it corrects.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or a gauge.
pub async fn put_readings(
    tx: &mut Tx,
    watershed: &Slug,
    readings: &[Reading],
    now: DateTime<Utc>,
) -> Result<Counts, StoreError> {
    put(tx, watershed, readings, now, Repeats::Speak).await
}

/// As [`put_readings`] for readings that a service sends again and again: one that says what the same
/// source said last is *unchanged* even where somebody else has corrected it since, or every fetch would
/// undo the correction.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or a gauge.
pub async fn put_fetched_readings(
    tx: &mut Tx,
    watershed: &Slug,
    readings: &[Reading],
    now: DateTime<Utc>,
) -> Result<Counts, StoreError> {
    put(tx, watershed, readings, now, Repeats::AreSilent).await
}

async fn put(
    tx: &mut Tx,
    watershed: &Slug,
    readings: &[Reading],
    now: DateTime<Utc>,
    repeats: Repeats,
) -> Result<Counts, StoreError> {
    let watershed_id = lock_watershed(tx, watershed).await?;
    let gauges = Ids::gauges(tx, watershed_id).await?;
    let mut by_series: BTreeMap<SeriesKey, Vec<(i64, &Reading)>> = BTreeMap::new();
    // Readings of one series mostly come together: it is looked up once for all of them.
    let same_series = |a: &Reading, b: &Reading| {
        (a.quantity, method_of(a)) == (b.quantity, method_of(b)) && a.gauge.as_str() == b.gauge.as_str()
    };
    for run in readings.chunk_by(same_series) {
        let Some(first) = run.first() else { continue };
        let series = (gauges.get(&first.gauge)?, first.quantity, method_of(first));
        by_series.entry(series).or_default().extend(run.iter().map(|reading| (time_key(reading), reading)));
    }
    let mut counts = Counts::default();
    for ((gauge_id, quantity, method), mut rows) in by_series {
        let series_id = need_series(tx, gauge_id, quantity, method).await?;
        // Stable, so that of two rows for one time the later in the file stays the later.
        rows.sort_by_key(|(key, _)| *key);
        let mut rest = rows.as_slice();
        while let Some((last_key, _)) = rest.get(CHUNK.min(rest.len()).saturating_sub(1)) {
            let (chunk, _) = rest.split_at(rest.partition_point(|(key, _)| key <= last_key));
            let (chunk, after) = rest.split_at(if method == "instant" { near(chunk) } else { chunk.len() });
            put_chunk(tx, series_id, chunk, now, repeats, &mut counts).await?;
            rest = after;
        }
    }
    Ok(counts)
}

/// How many of `rows`, which are in order of time, follow each other closely.
fn near(rows: &[(i64, &Reading)]) -> usize {
    let gap = rows.windows(2).position(|pair| pair[1].0.saturating_sub(pair[0].0) > APART_US);
    gap.map_or(rows.len(), |at| at + 1)
}

fn method_of(reading: &Reading) -> &'static str {
    match reading.time {
        ReadingTime::Day { .. } => "daily",
        ReadingTime::Instant { .. } => "instant",
    }
}

fn time_key(reading: &Reading) -> i64 {
    match reading.time {
        ReadingTime::Day { date, .. } => day_key(date),
        ReadingTime::Instant { at, .. } => at.timestamp_micros(),
    }
}

async fn put_chunk(
    tx: &mut Tx,
    series_id: i64,
    chunk: &[(i64, &Reading)],
    now: DateTime<Utc>,
    repeats: Repeats,
    counts: &mut Counts,
) -> Result<(), StoreError> {
    const HEAD: &str = "INSERT INTO reading (series_id, time_key, version, value, low, high, quality, reasons, \
        known_at, known_assumed, source, stored_at, qualifiers) VALUES ";
    let (Some((first, _)), Some((last, _))) = (chunk.first(), chunk.last()) else { return Ok(()) };
    let mut versions = stored_versions(tx, series_id, *first, *last).await?;
    let mut new_rows = Vec::with_capacity(if versions.is_empty() { chunk.len() } else { 0 });
    // Of the time in hand; rows of one time stand together.
    let mut known: Vec<Version> = Vec::new();
    for (index, (key, reading)) in chunk.iter().enumerate() {
        let another = |index: usize| chunk.get(index).is_none_or(|(other, _)| other != key);
        if index == 0 || another(index - 1) {
            known = versions.remove(key).unwrap_or_default();
        }
        let said = said(reading);
        let stated_us = reading.known_at.timestamp_micros();
        let upsert = if known.is_empty() {
            Upsert::Created
        } else if says_nothing_new(&known, &said, stated_us, reading.known_assumed)
            || (repeats == Repeats::AreSilent && repeats_itself(&known, &said, &reading.source))
        {
            Upsert::Unchanged
        } else {
            Upsert::Updated
        };
        counts.add(upsert);
        if upsert == Upsert::Unchanged {
            continue;
        }
        let latest_us = known.iter().map(|version| version.known_at_us).max();
        let known_at_us = match latest_us {
            Some(latest_us) if reading.known_assumed => stated_us.max(latest_us),
            _ => stated_us,
        };
        let number = known.iter().map(|version| version.number).max().unwrap_or(0) + 1;
        new_rows.push(new_row(series_id, *key, number, known_at_us, reading, now));
        if !another(index + 1) {
            known.push(Version { number, known_at_us, source: reading.source.clone(), said });
        }
    }
    insert_many(tx, HEAD, new_rows).await
}

fn says_nothing_new(known: &[Version], said: &Said, known_at_us: i64, assumed: bool) -> bool {
    let latest = |until_us| {
        let seen = known.iter().filter(|version| version.known_at_us <= until_us);
        seen.max_by_key(|version| (version.known_at_us, version.number))
    };
    let says_it = |version: Option<&Version>| version.is_some_and(|version| version.said.covers(said));
    says_it(latest(known_at_us)) || (assumed && says_it(latest(i64::MAX)))
}

fn repeats_itself(known: &[Version], said: &Said, source: &str) -> bool {
    let own = known.iter().filter(|version| version.source == source);
    own.max_by_key(|version| version.number).is_some_and(|version| version.said.covers(said))
}

fn said(reading: &Reading) -> Said {
    let (quality, qualifiers) = (reading.quality, reading.qualifiers.clone());
    match reading.time {
        ReadingTime::Day { mean, low, high, .. } => {
            Said { value: mean, low: Some(low), high: Some(high), quality, qualifiers }
        }
        ReadingTime::Instant { value, .. } => Said { value, low: None, high: None, quality, qualifiers },
    }
}

fn new_row(series_id: i64, key: i64, number: i64, known_at_us: i64, reading: &Reading, now: DateTime<Utc>) -> Vec<Arg> {
    let Said { value, low, high, quality, qualifiers } = said(reading);
    let mut row = args![series_id, key, number, value, low, high, quality.as_str()];
    row.push(words(&reading.reasons));
    row.extend(args![known_at_us, reading.known_assumed, &reading.source, now]);
    row.push(words(&qualifiers));
    row
}

async fn stored_versions(
    tx: &mut Tx,
    series_id: i64,
    first: i64,
    last: i64,
) -> Result<HashMap<i64, Vec<Version>>, StoreError> {
    const SQL: &str = "SELECT time_key, version, known_at, value, low, high, quality, qualifiers, source FROM reading \
        WHERE series_id = $1 AND time_key >= $2 AND time_key <= $3";
    let mut versions: HashMap<i64, Vec<Version>> = HashMap::new();
    for row in tx.rows("reading", SQL, args![series_id, first, last]).await? {
        let said = Said {
            value: row.real("value")?,
            low: row.opt_real("low")?,
            high: row.opt_real("high")?,
            quality: row.word("quality", Quality::parse)?,
            qualifiers: row.words("qualifiers")?,
        };
        let version = Version {
            number: row.int("version")?,
            known_at_us: row.int("known_at")?,
            source: row.text("source")?,
            said,
        };
        versions.entry(row.int("time_key")?).or_default().push(version);
    }
    Ok(versions)
}

async fn need_series(tx: &mut Tx, gauge_id: i64, quantity: Quantity, method: &'static str) -> Result<i64, StoreError> {
    const ADD: &str = "INSERT INTO series (gauge_id, quantity, unit, method) VALUES ($1, $2, $3, $4) \
        ON CONFLICT DO NOTHING";
    const FIND: &str = "SELECT id FROM series WHERE gauge_id = $1 AND quantity = $2 AND method = $3";
    tx.execute(ADD, args![gauge_id, quantity.as_str(), quantity.unit(), method]).await?;
    match tx.row("series", FIND, args![gauge_id, quantity.as_str(), method]).await? {
        Some(row) => row.int("id"),
        None => Err(StoreError::conflict("series")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_between_two_far_instants_is_not_read() {
        let reading = |hours: i64| Reading {
            gauge: Slug::new("weir").expect("a slug"),
            quantity: Quantity::WaterTemperature,
            time: ReadingTime::Instant { at: DateTime::UNIX_EPOCH + chrono::TimeDelta::hours(hours), value: 9.0 },
            quality: Quality::Good,
            reasons: Vec::new(),
            known_at: DateTime::UNIX_EPOCH,
            known_assumed: false,
            source: "test".to_owned(),
            qualifiers: Vec::new(),
        };
        let parts = |hours: &[i64]| {
            let readings: Vec<Reading> = hours.iter().map(|hours| reading(*hours)).collect();
            let rows: Vec<(i64, &Reading)> = readings.iter().map(|one| (time_key(one), one)).collect();
            let (mut rest, mut parts) = (rows.as_slice(), Vec::new());
            while !rest.is_empty() {
                let (part, after) = rest.split_at(near(rest));
                parts.push(part.len());
                rest = after;
            }
            parts
        };
        assert_eq!(parts(&[0, 1, 2, 2, 4]), [5]);
        assert_eq!(parts(&[0, 1, 1, 87_600, 87_601]), [3, 2]);
        assert_eq!(parts(&[5]), [1]);
    }
}
