//! Readings of a gauge: adding and listing.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use super::document::reading::NewReading;
use super::document::{Faults, ReadingsReceipt};
use super::once::{Answer, Once};
use super::{AppError, Service, jobs};
use crate::domain::{Quality, Reading, ReadingTime, Slug, Watershed};
use crate::store::Span;
use crate::store::reading::{daily_readings, instant_readings, put_readings};

/// Water of a river that a sender may vouch for; beyond it a reading is kept as suspect.
const PLAUSIBLE_C: std::ops::RangeInclusive<f64> = -2.0..=45.0;

/// Adds readings to a gauge, known from now on; all of them or none. News queues a publication of the
/// watershed's forecasts.
///
/// # Errors
/// A fault for each day or instant that stands twice or lies in the future.
pub async fn add(
    service: &Service,
    watershed: &Slug,
    gauge: &Slug,
    new: &[NewReading],
    once: &Once,
) -> Result<Answer, AppError> {
    check_times(service, watershed, new)?;
    let now = service.now();
    let readings: Vec<Reading> = new.iter().map(|reading| judged(gauge, reading, now)).collect();
    let mut tx = service.db().write().await?;
    if let Some(answer) = once.begin(&mut tx, now).await? {
        return Ok(answer);
    }
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

fn judged(gauge: &Slug, reading: &NewReading, now: DateTime<Utc>) -> Reading {
    let plausible = match reading.time {
        ReadingTime::Day { tmin_c, tmax_c, .. } => PLAUSIBLE_C.contains(&tmin_c) && PLAUSIBLE_C.contains(&tmax_c),
        ReadingTime::Instant { value_c, .. } => PLAUSIBLE_C.contains(&value_c),
    };
    let mut reasons = Vec::new();
    if reading.flag != Quality::Good {
        reasons.push(format!("flagged {} by the sender", reading.flag.as_str()));
    }
    let mut quality = reading.flag;
    if !plausible {
        reasons.push("outside -2 to 45 degrees Celsius".to_owned());
        if quality == Quality::Good {
            quality = Quality::Suspect;
        }
    }
    Reading {
        gauge: gauge.clone(),
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

/// The readings of a gauge from `from` through `to`, local days, in order of time.
///
/// # Errors
/// [`AppError::Store`].
pub async fn list(
    service: &Service,
    watershed: &Watershed,
    gauge: &Slug,
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
    let mut instants = instant_readings(&mut tx, &watershed.slug, gauge, None, span).await?;
    instants.retain(|reading| local_day(reading, zone).is_some_and(|day| (from..=to).contains(&day)));
    if step == Step::Instant {
        return Ok(instants);
    }
    let dates = Span { from: Some(from), to: Some(to) };
    let mut days: BTreeMap<NaiveDate, Reading> = BTreeMap::new();
    for reading in daily_readings(&mut tx, &watershed.slug, gauge, None, dates).await? {
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
            ReadingTime::Instant { value_c, .. } => Some(value_c),
            ReadingTime::Day { .. } => None,
        })
        .collect();
    let (low, high) = values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(*v), h.max(*v)));
    // Rounding of the sum must not carry the mean outside its own extremes.
    let mean = (values.iter().sum::<f64>() / values.len() as f64).clamp(low, high);
    let time = ReadingTime::day(date, mean, Some(low), Some(high)).ok()?;
    let newest = used.iter().map(|reading| reading.known_at).max()?;
    let first = used.first()?;
    Some(Reading {
        gauge: first.gauge.clone(),
        time,
        quality,
        reasons: Vec::new(),
        known_at: newest,
        known_assumed: used.iter().any(|reading| reading.known_assumed),
        source: first.source.clone(),
        qualifiers: first.qualifiers.clone(),
    })
}
