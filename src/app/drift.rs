//! Loggers that drift: every gauge held against the others and against the air, and what parts from them
//! doubted from now on.
//!
//! Nothing is deleted, and what was known before stays as it was known. Where two gauges part from each
//! other nobody can say which of them drifts: at least two others are asked for, and of several that part at
//! the same time the steepest alone is doubted. What a keeper found good stays good; what parts no longer, for
//! example since others were corrected, is good again.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Days, NaiveDate, Utc};
use chrono_tz::Tz;

use super::import_quality::local_date;
use super::reading::KEPT;
use super::{AppError, threads, water_air};
use crate::domain::civil::{end_of_day, start_of_day};
use crate::domain::{Quality, Quantity, Reading, ReadingTime, Slug, Watershed};
use crate::model::quality::{Against, DriftingDay, PARTS, drift, middle_of};
use crate::model::temperature::{AirSeries, DayTemp, Series, WaterFromAir, days_from_instants};
use crate::store::reading::{daily_readings, each_instant_of, put_readings};
use crate::store::{Db, Span, Tx, place};

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

/// What a drift of one gauge is judged by.
#[derive(Debug)]
struct Own {
    /// Daily means of good readings and of those that only a drift speaks against, so that a judgement does not
    /// change because it was made before.
    means: BTreeMap<NaiveDate, f64>,
    /// Days with readings that a drift speaks against.
    doubted: BTreeSet<NaiveDate>,
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
        all.push(own(&mut tx, &place, &gauge.slug, water_air::of_gauge(&air, gauge).cloned()).await?);
    }
    drop(tx);
    let judged = threads::at_once(move || {
        let doubts = doubts(&all);
        let before: Vec<BTreeSet<NaiveDate>> = all.into_iter().map(|own| own.doubted).collect();
        (before, doubts)
    });
    let (before, doubts) =
        judged.await.map_err(|error| AppError::Internal(format!("the judgement of drifts was cut off: {error}")))?;
    let mut tally = DriftTally::default();
    let mut changed = Vec::new();
    let mut tx = db.read().await?;
    for ((gauge, before), doubts) in gauges.iter().zip(&before).zip(&doubts) {
        // Of all other days nothing changes.
        let days: BTreeSet<NaiveDate> = before.iter().chain(doubts.keys()).copied().collect();
        let mut take = |reading: Reading| changed.extend(judged_anew(reading, doubts, zone, now, &mut tally));
        each_of(&mut tx, &place, &gauge.slug, &days, &mut take).await?;
    }
    drop(tx);
    if !changed.is_empty() {
        let mut tx = db.write().await?;
        put_readings(&mut tx, watershed, &changed, now).await?;
        tx.commit().await?;
    }
    Ok(tally)
}

/// Gives `take` the readings of `gauge` on `days`.
async fn each_of(
    tx: &mut Tx,
    place: &Watershed,
    gauge: &Slug,
    days: &BTreeSet<NaiveDate>,
    take: &mut (dyn FnMut(Reading) + Send),
) -> Result<(), AppError> {
    let (Some(first), Some(last)) = (days.first(), days.last()) else { return Ok(()) };
    let zone = place.time_zone;
    let mut taken = |reading: Reading| {
        if days.contains(&local_date(&reading.time, zone)) {
            take(reading);
        }
    };
    let instants = Span { from: Some(start_of_day(zone, *first)), to: Some(end_of_day(zone, *last)) };
    let (slug, water) = (&place.slug, Quantity::WaterTemperature);
    each_instant_of(tx, slug, gauge, water, None, instants, &mut taken).await?;
    let dates = Span { from: Some(*first), to: Some(*last) };
    daily_readings(tx, slug, gauge, None, dates).await?.into_iter().for_each(taken);
    Ok(())
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

/// Reads what a drift of `gauge` is judged by: its readings one by one, for those of many years take much room.
async fn own(tx: &mut Tx, place: &Watershed, gauge: &Slug, air: Option<AirSeries>) -> Result<Own, AppError> {
    let zone = place.time_zone;
    let (mut instants, mut daily) = (Vec::new(), BTreeMap::new());
    let mut doubted = BTreeSet::new();
    let mut take = |reading: Reading| {
        if is_drift(&reading) {
            doubted.insert(local_date(&reading.time, zone));
        } else if reading.quality != Quality::Good {
            return;
        }
        match reading.time {
            ReadingTime::Instant { at, value } => instants.push((at, value)),
            ReadingTime::Day { date, mean, .. } => drop(daily.insert(date, mean)),
        }
    };
    let water = Quantity::WaterTemperature;
    each_instant_of(tx, &place.slug, gauge, water, None, Span::all(), &mut take).await?;
    daily_readings(tx, &place.slug, gauge, None, Span::all()).await?.into_iter().for_each(take);
    let days = days_from_instants(&instants, zone);
    let mut means: BTreeMap<NaiveDate, f64> = days.into_iter().map(|(date, day)| (date, day.tmean_c)).collect();
    means.extend(daily);
    Ok(Own { means, doubted, air })
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
