//! Readings: what was known when.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};

use super::arg::args;
use super::keys::{gauge_id, watershed_id};
use super::row::Row;
use super::since::{cut_off, day_key, day_of_key, keys};
use super::{Span, StoreError, Tx};
use crate::domain::{Quality, Quantity, Reading, ReadingTime, Slug};

pub use super::reading_put::{put_fetched_readings, put_readings};

/// The newest readings of one gauge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewestReading {
    /// The gauge.
    pub gauge: Slug,
    /// Last local day with a daily reading of any quality.
    pub day: Option<NaiveDate>,
    /// Last instant with a reading of any quality.
    pub instant: Option<DateTime<Utc>>,
}

/// The daily readings of water temperature at a gauge in order of date: of each date the version that was
/// known last among those with `known_at` not after `known_by` (all when `None`), of any quality.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn daily_readings(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    known_by: Option<DateTime<Utc>>,
    dates: Span<NaiveDate>,
) -> Result<Vec<Reading>, StoreError> {
    daily_readings_of(tx, watershed, gauge, Quantity::WaterTemperature, known_by, dates).await
}

/// The daily readings of `quantity`, chosen as in [`daily_readings`].
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn daily_readings_of(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    quantity: Quantity,
    known_by: Option<DateTime<Utc>>,
    dates: Span<NaiveDate>,
) -> Result<Vec<Reading>, StoreError> {
    let range = keys(dates, day_key);
    as_of(tx, watershed, gauge, (quantity, "daily"), known_by, range).await
}

/// The water temperatures of a gauge at instants, in order of time, chosen as in [`daily_readings`].
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn instant_readings(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    known_by: Option<DateTime<Utc>>,
    instants: Span<DateTime<Utc>>,
) -> Result<Vec<Reading>, StoreError> {
    instant_readings_of(tx, watershed, gauge, Quantity::WaterTemperature, known_by, instants).await
}

/// The readings of `quantity` at instants, chosen as in [`daily_readings`].
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn instant_readings_of(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    quantity: Quantity,
    known_by: Option<DateTime<Utc>>,
    instants: Span<DateTime<Utc>>,
) -> Result<Vec<Reading>, StoreError> {
    let range = keys(instants, |at| at.timestamp_micros());
    as_of(tx, watershed, gauge, (quantity, "instant"), known_by, range).await
}

/// Gives `take` the readings of `quantity` at instants one by one in order of time, chosen as in
/// [`daily_readings`].
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn each_instant_of(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    quantity: Quantity,
    known_by: Option<DateTime<Utc>>,
    instants: Span<DateTime<Utc>>,
    take: &mut (dyn FnMut(Reading) + Send),
) -> Result<(), StoreError> {
    let range = keys(instants, |at| at.timestamp_micros());
    each_as_of(tx, watershed, gauge, (quantity, "instant"), known_by, range, take).await
}

/// From which end of a span of time readings are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The earliest.
    First,
    /// The latest.
    Last,
}

/// The readings of `quantity` at no more than `most` instants of a span, those nearest to its `end`, in order of time,
/// chosen as in [`daily_readings`] among all that is known.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn instant_readings_at(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    quantity: Quantity,
    instants: Span<DateTime<Utc>>,
    (most, end): (usize, End),
) -> Result<Vec<Reading>, StoreError> {
    const FIRST: &str = "SELECT MAX(k.time_key) AS edge FROM (SELECT DISTINCT r.time_key FROM reading r \
        WHERE r.series_id = (SELECT s.id FROM series s WHERE s.gauge_id = $1 AND s.quantity = $2 \
        AND s.method = 'instant') AND r.time_key >= $3 AND r.time_key <= $4 ORDER BY r.time_key LIMIT $5) k";
    const LAST: &str = "SELECT MIN(k.time_key) AS edge FROM (SELECT DISTINCT r.time_key FROM reading r \
        WHERE r.series_id = (SELECT s.id FROM series s WHERE s.gauge_id = $1 AND s.quantity = $2 \
        AND s.method = 'instant') AND r.time_key >= $3 AND r.time_key <= $4 ORDER BY r.time_key DESC LIMIT $5) k";
    let (first, last) = keys(instants, |at| at.timestamp_micros());
    let watershed_id = watershed_id(tx, watershed).await?;
    let id = gauge_id(tx, watershed_id, gauge).await?;
    let args = args![id, quantity.as_str(), first, last, i64::try_from(most).unwrap_or(i64::MAX)];
    let sql = if end == End::First { FIRST } else { LAST };
    let edge = tx.row("reading", sql, args).await?.map(|row| row.opt_int("edge")).transpose()?.flatten();
    let Some(edge) = edge else { return Ok(Vec::new()) };
    let range = if end == End::First { (first, edge) } else { (edge, last) };
    as_of(tx, watershed, gauge, (quantity, "instant"), None, range).await
}

async fn as_of(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    series: (Quantity, &'static str),
    known_by: Option<DateTime<Utc>>,
    range: (i64, i64),
) -> Result<Vec<Reading>, StoreError> {
    let mut readings = Vec::new();
    each_as_of(tx, watershed, gauge, series, known_by, range, &mut |reading| readings.push(reading)).await?;
    Ok(readings)
}

async fn each_as_of(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    (quantity, method): (Quantity, &'static str),
    known_by: Option<DateTime<Utc>>,
    (first, last): (i64, i64),
    take: &mut (dyn FnMut(Reading) + Send),
) -> Result<(), StoreError> {
    // Which version counts is decided here: choosing it in SQL sorts every row, and few have a second.
    const SQL: &str = "SELECT r.time_key, r.version, r.value, r.low, r.high, r.quality, r.reasons, r.known_at, \
        r.known_assumed, r.source, r.qualifiers FROM reading r WHERE r.series_id = \
        (SELECT s.id FROM series s WHERE s.gauge_id = $1 AND s.quantity = $2 AND s.method = $3) \
        AND r.known_at <= $4 AND r.time_key >= $5 AND r.time_key <= $6 ORDER BY r.time_key";
    let watershed_id = watershed_id(tx, watershed).await?;
    let gauge_id = gauge_id(tx, watershed_id, gauge).await?;
    let args = args![gauge_id, quantity.as_str(), method, cut_off(known_by), first, last];
    let read = |row: &Row| read_reading(row, gauge, quantity, method == "daily");
    let mut latest: Option<(i64, (i64, i64), Row)> = None;
    let mut next = |row: Row| {
        let (key, rank) = (row.int("time_key")?, (row.int("known_at")?, row.int("version")?));
        match &latest {
            Some((known, before, _)) if *known == key && *before > rank => return Ok(()),
            Some((known, _, row)) if *known != key => take(read(row)?),
            _ => {}
        }
        latest = Some((key, rank, row));
        Ok(())
    };
    tx.each("reading", SQL, args, &mut next).await?;
    if let Some((_, _, row)) = latest {
        take(read(&row)?);
    }
    Ok(())
}

fn read_reading(row: &Row, gauge: &Slug, quantity: Quantity, daily: bool) -> Result<Reading, StoreError> {
    let time = if daily {
        ReadingTime::Day {
            date: day_of_key(row.int("time_key")?).ok_or_else(|| row.corrupt("time_key", "is not a day"))?,
            mean: row.real("value")?,
            low: row.real("low")?,
            high: row.real("high")?,
        }
    } else {
        ReadingTime::Instant { at: row.instant("time_key")?, value: row.real("value")? }
    };
    Ok(Reading {
        gauge: gauge.clone(),
        quantity,
        time,
        quality: row.word("quality", Quality::parse)?,
        reasons: row.words("reasons")?,
        known_at: row.instant("known_at")?,
        known_assumed: row.flag("known_assumed")?,
        source: row.text("source")?,
        qualifiers: row.words("qualifiers")?,
    })
}

/// The newest reading of each quantity that `gauge` has, in their order.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn newest_by_quantity(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
) -> Result<Vec<(Quantity, NewestReading)>, StoreError> {
    const SQL: &str = "SELECT s.quantity, s.method, (SELECT r.time_key FROM reading r WHERE r.series_id = s.id \
        ORDER BY r.time_key DESC LIMIT 1) AS newest FROM series s WHERE s.gauge_id = $1";
    let watershed_id = watershed_id(tx, watershed).await?;
    let gauge_id = gauge_id(tx, watershed_id, gauge).await?;
    let mut found: BTreeMap<Quantity, NewestReading> = BTreeMap::new();
    for row in tx.rows("series", SQL, args![gauge_id]).await? {
        let Some(key) = row.opt_int("newest")? else { continue };
        let none = NewestReading { gauge: gauge.clone(), day: None, instant: None };
        let newest = found.entry(row.word("quantity", Quantity::parse)?).or_insert(none);
        if row.text("method")? == "daily" {
            newest.day = Some(day_of_key(key).ok_or_else(|| row.corrupt("newest", "is not a day"))?);
        } else {
            newest.instant = row.opt_instant("newest")?;
        }
    }
    Ok(found.into_iter().collect())
}

/// The newest time of a water temperature of every gauge of `watershed`, by slug; gauges without readings
/// included.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn newest_readings(tx: &mut Tx, watershed: &Slug) -> Result<Vec<NewestReading>, StoreError> {
    // The order and limit let both databases read one entry of the index.
    const SQL: &str = "SELECT g.slug, \
        (SELECT r.time_key FROM reading r WHERE r.series_id = \
            (SELECT s.id FROM series s WHERE s.gauge_id = g.id AND s.quantity = $2 AND s.method = 'daily') \
            ORDER BY r.time_key DESC LIMIT 1) AS newest_day, \
        (SELECT r.time_key FROM reading r WHERE r.series_id = \
            (SELECT s.id FROM series s WHERE s.gauge_id = g.id AND s.quantity = $2 AND s.method = 'instant') \
            ORDER BY r.time_key DESC LIMIT 1) AS newest_instant \
        FROM gauge g WHERE g.watershed_id = $1 ORDER BY g.slug_key";
    let watershed_id = watershed_id(tx, watershed).await?;
    let rows = tx.rows("reading", SQL, args![watershed_id, Quantity::WaterTemperature.as_str()]).await?;
    let read = |row: &Row| {
        let day = row.opt_int("newest_day")?;
        let day =
            day.map(|key| day_of_key(key).ok_or_else(|| row.corrupt("newest_day", "is not a day"))).transpose()?;
        Ok(NewestReading { gauge: row.slug("slug")?, day, instant: row.opt_instant("newest_instant")? })
    };
    rows.iter().map(read).collect()
}
