//! Readings of a gauge: adding and listing.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use super::document::reading::{NewReading, NewReadings};
use super::document::{Faults, ReadingsReceipt};
use super::once::{Answer, Once};
use super::{AppError, Service, jobs};
use crate::domain::{Quality, Quantity, Reading, ReadingTime, Slug, Watershed};
use crate::store::reading::{daily_readings_of, instant_readings_of, put_readings};
use crate::store::{Span, Tx};

/// The reason for a good reading that was doubted before its keeper sent it as good.
pub(super) const KEPT: &str = "found good by a keeper";

/// Adds readings to a gauge, known from now on; all of them or none. News queues a publication of the
/// watershed's forecasts.
///
/// # Errors
/// A fault for each day or instant that stands twice or lies in the future.
pub async fn add(
    service: &Service,
    watershed: &Slug,
    gauge: &Slug,
    new: &NewReadings,
    once: &Once,
) -> Result<Answer, AppError> {
    check_times(service, watershed, &new.readings)?;
    let now = service.now();
    let mut readings: Vec<Reading> =
        new.readings.iter().map(|reading| judged(gauge, new.quantity, reading, now)).collect();
    let mut tx = service.db().write().await?;
    if let Some(answer) = once.begin(&mut tx, now).await? {
        return Ok(answer);
    }
    overrule(&mut tx, watershed, gauge, &mut readings).await?;
    let counts = put_readings(&mut tx, watershed, &readings, now).await?;
    if counts.created + counts.updated > 0 {
        jobs::enqueue_publish(&mut tx, watershed, now).await?;
    }
    let receipt = ReadingsReceipt {
        total: counts.total(),
        created: counts.created,
        updated: counts.updated,
        unchanged: counts.unchanged,
    };
    let answer = once.end(&mut tx, 200, &receipt, None).await?;
    tx.commit().await?;
    Ok(answer)
}

/// Marks those that say of a doubted value that it is good, so that no later check doubts it again.
async fn overrule(tx: &mut Tx, watershed: &Slug, gauge: &Slug, readings: &mut [Reading]) -> Result<(), AppError> {
    for reading in readings.iter_mut().filter(|reading| reading.quality == Quality::Good) {
        let quantity = reading.quantity;
        let stored = match reading.time {
            ReadingTime::Day { date, .. } => {
                let only = Span { from: Some(date), to: Some(date) };
                daily_readings_of(tx, watershed, gauge, quantity, None, only).await?
            }
            ReadingTime::Instant { at, .. } => {
                let only = Span { from: Some(at), to: Some(at) };
                instant_readings_of(tx, watershed, gauge, quantity, None, only).await?
            }
        };
        let settled = |known: &Reading| known.quality != Quality::Good || known.reasons.iter().any(|r| r == KEPT);
        if stored.iter().any(|known| known.time == reading.time && settled(known)) {
            reading.reasons = vec![KEPT.to_owned()];
        }
    }
    Ok(())
}

fn check_times(service: &Service, watershed: &Slug, new: &[NewReading]) -> Result<(), AppError> {
    let today = service.today(service.watershed(watershed)?.watershed.time_zone);
    let (mut days, mut instants, mut faults) = (BTreeSet::new(), BTreeSet::new(), Faults::default());
    for (index, reading) in new.iter().enumerate() {
        let (fresh, future, field) = match reading.time {
            ReadingTime::Day { date, .. } => (days.insert(date), date > today, "date"),
            ReadingTime::Instant { at, .. } => (instants.insert(at), at > service.latest_visit_end(), "at"),
        };
        if future {
            faults.add(format!("#/readings/{index}/{field}"), "in_the_future", "lies in the future");
        }
        if !fresh {
            faults.add(format!("#/readings/{index}/{field}"), "repeated", "stands in this document already");
        }
    }
    if faults.is_empty() { Ok(()) } else { Err(AppError::Faults(faults)) }
}

/// A value that a sender may not vouch for is kept as suspect.
fn judged(gauge: &Slug, quantity: Quantity, reading: &NewReading, now: DateTime<Utc>) -> Reading {
    let (low, high) = reading.time.extremes();
    let doubt = quantity.doubt(low).or_else(|| quantity.doubt(high));
    let mut reasons = Vec::new();
    if reading.flag != Quality::Good {
        reasons.push(format!("flagged {} by the sender", reading.flag.as_str()));
    }
    let mut quality = reading.flag;
    if let Some(doubt) = doubt {
        reasons.push(doubt);
        if quality == Quality::Good {
            quality = Quality::Suspect;
        }
    }
    Reading {
        gauge: gauge.clone(),
        quantity,
        time: reading.time,
        quality,
        reasons,
        known_at: now,
        known_assumed: false,
        source: "api".to_owned(),
        qualifiers: Vec::new(),
    }
}

/// How readings are listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// One per local day: daily readings, and days made from readings at instants.
    Day,
    /// Readings at instants as stored.
    Instant,
}

/// The readings of `quantity` at a gauge from `from` through `to`, local days, in order of time.
///
/// # Errors
/// [`AppError::Store`].
pub async fn list(
    service: &Service,
    watershed: &Watershed,
    gauge: &Slug,
    quantity: Quantity,
    (from, to): (NaiveDate, NaiveDate),
    step: Step,
) -> Result<Vec<Reading>, AppError> {
    let zone = watershed.time_zone;
    let mut tx = service.db().read().await?;
    // A local day lies within the UTC day and its neighbours.
    let margin = chrono::Days::new(1);
    let start = (from - margin).and_time(chrono::NaiveTime::MIN).and_utc();
    let end = (to + margin + margin).and_time(chrono::NaiveTime::MIN).and_utc();
    let span = Span { from: Some(start), to: Some(end) };
    let mut instants = instant_readings_of(&mut tx, &watershed.slug, gauge, quantity, None, span).await?;
    instants.retain(|reading| local_day(reading, zone).is_some_and(|day| (from..=to).contains(&day)));
    if step == Step::Instant {
        return Ok(instants);
    }
    let dates = Span { from: Some(from), to: Some(to) };
    let mut days: BTreeMap<NaiveDate, Reading> = BTreeMap::new();
    for reading in daily_readings_of(&mut tx, &watershed.slug, gauge, quantity, None, dates).await? {
        if let ReadingTime::Day { date, .. } = reading.time {
            days.insert(date, reading);
        }
    }
    for (date, group) in by_day(&instants, zone) {
        if let Some(made) = day_of(date, &group) {
            days.entry(date).or_insert(made);
        }
    }
    Ok(days.into_values().collect())
}

fn local_day(reading: &Reading, zone: Tz) -> Option<NaiveDate> {
    match reading.time {
        ReadingTime::Instant { at, .. } => Some(at.with_timezone(&zone).date_naive()),
        ReadingTime::Day { .. } => None,
    }
}

fn by_day(instants: &[Reading], zone: Tz) -> BTreeMap<NaiveDate, Vec<&Reading>> {
    let mut days: BTreeMap<NaiveDate, Vec<&Reading>> = BTreeMap::new();
    for reading in instants {
        if let Some(day) = local_day(reading, zone) {
            days.entry(day).or_default().push(reading);
        }
    }
    days
}

/// A day as the plain mean and the extremes of its good readings; suspect when it has no good one.
fn day_of(date: NaiveDate, group: &[&Reading]) -> Option<Reading> {
    let good: Vec<&&Reading> = group.iter().filter(|reading| reading.quality == Quality::Good).collect();
    let (used, quality) =
        if good.is_empty() { (group.iter().collect(), Quality::Suspect) } else { (good, Quality::Good) };
    let values: Vec<f64> = used
        .iter()
        .filter_map(|reading| match reading.time {
            ReadingTime::Instant { value, .. } => Some(value),
            ReadingTime::Day { .. } => None,
        })
        .collect();
    let (low, high) = values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
    // Rounding of the sum must not carry the mean outside its own extremes.
    let mean = (values.iter().sum::<f64>() / values.len() as f64).clamp(low, high);
    let first = used.first()?;
    let time = first.quantity.day(date, mean, Some(low), Some(high)).ok()?;
    let newest = used.iter().map(|reading| reading.known_at).max()?;
    Some(Reading {
        gauge: first.gauge.clone(),
        quantity: first.quantity,
        time,
        quality,
        reasons: Vec::new(),
        known_at: newest,
        known_assumed: used.iter().any(|reading| reading.known_assumed),
        source: first.source.clone(),
        qualifiers: first.qualifiers.clone(),
    })
}
