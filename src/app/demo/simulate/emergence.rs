//! When the invented insects really emerge.

use std::collections::BTreeMap;

use rand_distr::{Distribution, StandardNormal};
use statrs::distribution::{ContinuousCDF, Normal};

use super::club::{STRETCHES, Stretch, WATERS, Water};
use super::taxa::{Drive, LIVES, Life, Wave};
use super::{Truth, chance, day_length_hours, days_in, water};
use crate::domain::{Invalid, Slug};

/// Share of a brood that straggles behind the main wave.
const STRAGGLERS: f64 = 0.15;
/// How far behind, and how much wider, in spreads of the main wave.
const STRAGGLERS_LATER: f64 = 1.8;
const STRAGGLERS_WIDER: f64 = 1.5;
/// Spread of what a season adds to every reach alike, and to one reach alone, days.
const SEASON_SD_DAYS: f64 = 2.5;
const REACH_SD_DAYS: f64 = 1.5;

/// The true course of every brood on every reach in `season`.
pub(super) fn season(
    seed: u64,
    season: i32,
    temperatures: &BTreeMap<&str, Vec<water::Day>>,
) -> Result<Vec<Truth>, Invalid> {
    let mut truths = Vec::new();
    for life in &LIVES {
        for wave in life.waves {
            let mut common = chance(seed, &format!("{} {}", life.taxon, wave.brood), season);
            let draw: f64 = StandardNormal.sample(&mut common);
            for stretch in &STRETCHES {
                let alone: f64 = StandardNormal.sample(&mut common);
                let shift_days = SEASON_SD_DAYS * draw + REACH_SD_DAYS * alone;
                let days = temperatures.get(stretch.gauge).map_or(&[][..], Vec::as_slice);
                let cumulative = course(wave, stretch, days, days_in(season), shift_days);
                truths.push(truth(life, wave, stretch, season, cumulative)?);
            }
        }
    }
    Ok(truths)
}

fn truth(life: &Life, wave: &Wave, stretch: &Stretch, season: i32, cumulative: Vec<f64>) -> Result<Truth, Invalid> {
    Ok(Truth { reach: Slug::new(stretch.slug)?, taxon: Slug::new(life.taxon)?, brood: wave.brood, season, cumulative })
}

/// Share out by the end of each day. The requirement is what the average year at the weir collects by
/// the wave's half day, `shift_days` moved; the reach then collects it in its own time.
fn course(wave: &Wave, stretch: &Stretch, days: &[water::Day], length: usize, shift_days: f64) -> Vec<f64> {
    let weir = &WATERS[0];
    let need = usual_units(wave, weir, wave.half_day + shift_days);
    let early = usual_units(wave, weir, wave.half_day + shift_days - wave.spread_days);
    let spread = (need - early).max(1e-6);
    let mut units = 0.0;
    (1..=length)
        .map(|day| {
            let mean_c = days.get(day - 1).map_or(0.0, |d| d.mean_c) + stretch.warmer_c;
            units += per_day(wave.drive, mean_c, day);
            share((units - need) / spread)
        })
        .collect()
}

/// What the clock adds on a day of mean temperature `mean_c`.
fn per_day(drive: Drive, mean_c: f64, day: usize) -> f64 {
    match drive {
        Drive::Warmth(base_c) => (mean_c - base_c).max(0.0),
        Drive::WarmthWhenLight(base_c, hours) if day_length_hours(day) > hours => (mean_c - base_c).max(0.0),
        Drive::WarmthWhenLight(..) => 0.0,
        Drive::Days => 1.0,
    }
}

/// The clock's reading at the end of `day` (with a fraction) in the average year.
fn usual_units(wave: &Wave, water: &Water, day: f64) -> f64 {
    let whole = day.floor().max(0.0) as usize;
    let sum: f64 = (1..=whole).map(|d| per_day(wave.drive, water::usual_c(water, d), d)).sum();
    sum + (day - whole as f64) * per_day(wave.drive, water::usual_c(water, whole + 1), whole + 1)
}

/// Share out at `z` spreads past the middle of the main wave.
fn share(z: f64) -> f64 {
    let normal = Normal::standard();
    (1.0 - STRAGGLERS) * normal.cdf(z) + STRAGGLERS * normal.cdf((z - STRAGGLERS_LATER) / STRAGGLERS_WIDER)
}
