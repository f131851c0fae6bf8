//! Water temperatures of the invented gauges, with the faults that loggers have.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate, NaiveTime, TimeZone};
use chrono_tz::Tz;
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};

use super::club::Water;
use super::{SOURCE, chance, date_of, days_in};
use crate::domain::{Invalid, Quality, Quantity, Reading, ReadingTime, Slug};

/// Coldest flowing water, degrees Celsius.
const COLDEST_C: f64 = 0.1;

/// One day's true water temperatures, degrees Celsius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Day {
    /// Minimum.
    pub min_c: f64,
    /// Mean.
    pub mean_c: f64,
    /// Maximum.
    pub max_c: f64,
}

/// Temperature of an average year on day `day` at `water`, degrees Celsius.
pub(super) fn usual_c(water: &Water, day: usize) -> f64 {
    let phase = std::f64::consts::TAU * (day as f64 - water.warmest_day) / 365.25;
    water.mean_c + water.swing_c * phase.cos()
}

/// The true temperatures of every day of `season` at `water`.
pub(super) fn year(seed: u64, season: i32, water: &Water, air: &[f64]) -> Vec<Day> {
    let mut rng = chance(seed, water.gauge, season);
    let mut followed = 0.0;
    air.iter()
        .enumerate()
        .map(|(index, anomaly)| {
            followed = water.memory * followed + (1.0 - water.memory) * water.follows * anomaly;
            let noise: f64 = StandardNormal.sample(&mut rng);
            let mean_c = (usual_c(water, index + 1) + followed + 0.15 * noise).max(COLDEST_C);
            let phase = std::f64::consts::TAU * (index as f64 - 180.0) / 365.25;
            let sun: f64 = rng.random_range(0.5..1.4);
            let range = water.range_c * (0.75 + 0.25 * phase.cos()) * sun;
            Day { min_c: (mean_c - 0.47 * range).max(0.0), mean_c, max_c: mean_c + 0.53 * range }
        })
        .collect()
}

/// The readings that the club has by `today`: each day's is fetched at six the next morning. Some days
/// are lost, and once a year a logger lies dry on the bank for a few days.
pub(super) fn readings(
    seed: u64,
    season: i32,
    temperatures: &BTreeMap<&str, Vec<Day>>,
    time_zone: Tz,
    today: NaiveDate,
) -> Result<Vec<Reading>, Invalid> {
    let mut readings = Vec::new();
    for (gauge, days) in temperatures {
        let mut rng = chance(seed, &format!("logger of {gauge}"), season);
        let length = days_in(season);
        let lost_from = rng.random_range(1..=length);
        let lost = lost_from..lost_from + rng.random_range(2..12);
        let dry_from = rng.random_range(150..250);
        let dry = dry_from..dry_from + rng.random_range(2..5);
        for (index, day) in days.iter().enumerate() {
            let date = date_of(season, index + 1)?;
            let missed = lost.contains(&(index + 1)) || rng.random_bool(0.004);
            if missed || date >= today {
                continue;
            }
            let is_dry = dry.contains(&(index + 1));
            // Air in summer sun instead of water.
            let (low, mean, high) = if is_dry {
                (day.min_c - 4.0, day.mean_c + 5.0, day.max_c + 14.0)
            } else {
                (day.min_c, day.mean_c, day.max_c)
            };
            readings.push(Reading {
                gauge: Slug::new(gauge)?,
                quantity: Quantity::WaterTemperature,
                time: ReadingTime::day(date, hundredths(mean), Some(hundredths(low)), Some(hundredths(high)))?,
                quality: if is_dry { Quality::Bad } else { Quality::Good },
                reasons: if is_dry { vec!["logger out of the water (simulated)".to_owned()] } else { Vec::new() },
                known_at: morning_after(date, time_zone)?,
                known_assumed: false,
                source: SOURCE.to_owned(),
                qualifiers: Vec::new(),
            });
        }
    }
    Ok(readings)
}

fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

fn morning_after(date: NaiveDate, time_zone: Tz) -> Result<chrono::DateTime<chrono::Utc>, Invalid> {
    let six = NaiveTime::from_hms_opt(6, 0, 0).unwrap_or_default();
    time_zone
        .from_local_datetime(&(date + Days::new(1)).and_time(six))
        .earliest()
        .map(|at| at.to_utc())
        .ok_or_else(|| Invalid::new("known_at", date, "must have a morning after"))
}
