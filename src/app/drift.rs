//! Loggers that drift: every gauge held against the others and against the air, and what parts from them
//! doubted from now on.
//!
//! Nothing is deleted, and what was known before stays as it was known. Where two gauges part from each
//! other nobody can say which of them drifts: at least two others are asked for, and of several that part at
//! the same time the steepest alone is doubted. What a keeper found good stays good; what parts no longer, for
//! example since others were corrected, is good again.

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveDate, Utc};
use chrono_tz::Tz;

use super::import_quality::local_date;
use super::reading::KEPT;
use super::{AppError, water_air};
use crate::domain::{Quality, Reading, ReadingTime, Slug};
use crate::model::quality::{Against, DriftingDay, PARTS, drift, middle_of};
use crate::model::temperature::{AirSeries, DayTemp, Series, WaterFromAir, days_from_instants};
use crate::store::reading::{daily_readings, instant_readings, put_readings};
use crate::store::{Db, Span, place};

/// Fewest other gauges that can tell which one drifts.
const FEWEST_OTHERS: usize = 2;

/// Days within which two gauges cannot both be said to drift: half the window that a drift is seen in.
const NEAR_DAYS: u64 = 90;

/// What was changed.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct DriftTally {
    /// Readings doubted that were good.
    pub doubted: u64,
    /// Readings good again.
    pub cleared: u64,
}

/// Readings of one gauge, and the daily means made of those that a drift is judged by.
#[derive(Debug)]
struct Own {
    readings: Vec<Reading>,
    means: BTreeMap<NaiveDate, f64>,
    air: Option<AirSeries>,
}

/// Judges all gauges of `watershed` and keeps what changed as new versions, known from `now` on.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Store`].
pub async fn judge_drift(db: &Db, watershed: &Slug, now: DateTime<Utc>) -> Result<DriftTally, AppError> {
    let mut tx = db.read().await?;
    let place = place::find_watershed(&mut tx, watershed).await?.ok_or_else(|| AppError::not_found("watershed"))?;
    let zone = place.time_zone;
    let gauges = place::gauges(&mut tx, watershed).await?;
    let air = water_air::load(&mut tx, &place, &gauges, None, None).await?;
    let mut all = Vec::with_capacity(gauges.len());
    for gauge in &gauges {
        let mut readings = instant_readings(&mut tx, watershed, &gauge.slug, None, Span::all()).await?;
        readings.extend(daily_readings(&mut tx, watershed, &gauge.slug, None, Span::all()).await?);
        let means = means(&readings, zone);
        all.push(Own { readings, means, air: water_air::of_gauge(&air, gauge).cloned() });
    }
    drop(tx);
    let judged = tokio::task::spawn_blocking(move || {
        let doubts = doubts(&all);
        (all, doubts)
    });
    let (all, doubts) =
        judged.await.map_err(|error| AppError::Internal(format!("the judgement of drifts was cut off: {error}")))?;
    let mut tally = DriftTally::default();
    let mut changed = Vec::new();
    for (own, doubts) in all.into_iter().zip(&doubts) {
        for reading in own.readings {
            changed.extend(judged_anew(reading, doubts, zone, now, &mut tally));
        }
    }
    if !changed.is_empty() {
        let mut tx = db.write().await?;
        put_readings(&mut tx, watershed, &changed, now).await?;
        tx.commit().await?;
    }
    Ok(tally)
}

/// The reading as it is to be kept from now on, if that is another than before.
fn judged_anew(
    mut reading: Reading,
    doubts: &BTreeMap<NaiveDate, String>,
    zone: Tz,
    now: DateTime<Utc>,
    tally: &mut DriftTally,
) -> Option<Reading> {
    let doubt = doubts.get(&local_date(&reading.time, zone));
    let kept = reading.reasons.iter().any(|reason| reason == KEPT);
    match (reading.quality, doubt) {
        (Quality::Good, Some(reason)) if !kept => {
            (reading.quality, reading.reasons) = (Quality::Suspect, vec![reason.clone()]);
            tally.doubted += 1;
        }
        (Quality::Suspect, None) if is_drift(&reading) => {
            (reading.quality, reading.reasons) = (Quality::Good, Vec::new());
            tally.cleared += 1;
        }
        _ => return None,
    }
    (reading.known_at, reading.known_assumed) = (now, false);
    Some(reading)
}

fn is_drift(reading: &Reading) -> bool {
    matches!(reading.reasons.as_slice(), [only] if only.starts_with(PARTS))
}

/// Daily means of good readings and of those that only a drift speaks against, so that a judgement does not
/// change because it was made before.
fn means(readings: &[Reading], zone: Tz) -> BTreeMap<NaiveDate, f64> {
    let used = || readings.iter().filter(|reading| reading.quality == Quality::Good || is_drift(reading));
    let instants: Vec<(DateTime<Utc>, f64)> = used()
        .filter_map(|reading| match reading.time {
            ReadingTime::Instant { at, value } => Some((at, value)),
            ReadingTime::Day { .. } => None,
        })
        .collect();
    let days = days_from_instants(&instants, zone);
    let mut means: BTreeMap<NaiveDate, f64> = days.into_iter().map(|(date, day)| (date, day.tmean_c)).collect();
    means.extend(used().filter_map(|reading| match reading.time {
        ReadingTime::Day { date, mean, .. } => Some((date, mean)),
        ReadingTime::Instant { .. } => None,
    }));
    means
}

/// Doubted days with their reasons, by gauge.
fn doubts(all: &[Own]) -> Vec<BTreeMap<NaiveDate, String>> {
    let against_gauges: Vec<Vec<DriftingDay>> = all
        .iter()
        .enumerate()
        .map(|(index, own)| {
            let others = all.iter().enumerate().filter(|(other, one)| *other != index && !one.means.is_empty());
            let others: Vec<BTreeMap<NaiveDate, f64>> = others.map(|(_, other)| other.means.clone()).collect();
            if others.len() < FEWEST_OTHERS {
                return Vec::new();
            }
            let mut middle = middle_of(&own.means, &others);
            // Fewer others on a day tell no more than fewer others do.
            middle.retain(|date, _| others.iter().filter(|other| other.contains_key(date)).count() >= FEWEST_OTHERS);
            drift(&own.means, &middle, Against::Gauges)
        })
        .collect();
    let slopes: Vec<BTreeMap<NaiveDate, f64>> =
        against_gauges.iter().map(|days| days.iter().map(|day| (day.date, day.per_month_c.abs())).collect()).collect();
    // A gauge that drifts moves the middle of the others: they seem to part from it, half as fast.
    let is_steepest = |gauge: usize, day: &DriftingDay| {
        let near = day.date - Days::new(NEAR_DAYS)..=day.date + Days::new(NEAR_DAYS);
        let others = slopes.iter().enumerate().filter(|(other, _)| *other != gauge);
        !others.flat_map(|(_, other)| other.range(near.clone())).any(|(_, slope)| *slope > day.per_month_c.abs())
    };
    let one = |(gauge, (own, drifting)): (usize, (&Own, &Vec<DriftingDay>))| {
        let mut found: BTreeMap<NaiveDate, String> = BTreeMap::new();
        let first = drifting.iter().filter(|day| is_steepest(gauge, day));
        for day in first.chain(&against_air(own)) {
            found.entry(day.date).or_insert_with(|| day.reason.clone());
        }
        found
    };
    all.iter().zip(&against_gauges).enumerate().map(one).collect()
}

fn against_air(own: &Own) -> Vec<DriftingDay> {
    let (Some(air), Some(last)) = (&own.air, own.means.keys().next_back()) else { return Vec::new() };
    let water: Series = own.means.iter().map(|(date, mean)| (*date, DayTemp::of_mean(*mean))).collect();
    // Too little of either is no ground for doubt.
    let Ok(model) = WaterFromAir::fit(&water, air, *last) else { return Vec::new() };
    let said = model.series().into_iter().map(|(date, day)| (date, day.tmean_c)).collect();
    drift(&own.means, &said, Against::Air)
}
