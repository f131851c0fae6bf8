//! A pure simulator of an invented club's water, insects and notebooks.
//!
//! Nothing here exists: not the club, not the river, not a reading or a visit. The point of inventing
//! it is that the truth is known, so forecasts made from the notebooks can be held against it.
//!
//! What happens, in order:
//! 1. [`weather`]: one daily air anomaly for the whole valley, a slow part (warm and cold springs)
//!    plus a fast autoregressive part.
//! 2. [`water`]: a seasonal wave per gauge and a share of the smoothed anomaly; the cold spring-fed
//!    beck hardly follows the weather, the small brook follows it closely.
//! 3. [`emergence`]: each taxon and brood emerges as its own clock runs: warmth above a threshold,
//!    the same behind a day-length gate, or plain days. The wave is a normal one with a tail of
//!    stragglers, on purpose not the curve that the service fits.
//! 4. [`watching`]: members visit when members visit, see some of what flies in the hours they are
//!    there, and note classes, a few counts and many blanks; a trap at one bridge; first sightings.
//!
//! The sums are this module's own. None of the service's model is called, so an error there cannot
//! hide by being made twice. Same seed and same `today` give the same bytes; a later `today` of the
//! same year only adds to them.

pub mod club;
pub mod emergence;
pub mod taxa;
pub mod watching;
pub mod water;
pub mod weather;

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};
use rand::SeedableRng;
use rand_pcg::Pcg64;

use crate::domain::{Gauge, Invalid, Reach, Reading, Record, Slug, Watershed};

/// Seasons before the running one.
pub const PAST_SEASONS: i32 = 6;

/// Where the demo's readings and records say they come from.
pub const SOURCE: &str = "demo: simulated, invented";

/// Everything the simulator makes.
#[derive(Debug, Clone)]
pub struct Simulated {
    /// The invented river.
    pub watershed: Watershed,
    /// Its reaches.
    pub reaches: Vec<Reach>,
    /// Its gauges.
    pub gauges: Vec<Gauge>,
    /// The real taxa that live there.
    pub taxa: Vec<Slug>,
    /// Daily water temperatures known by `today`.
    pub readings: Vec<Reading>,
    /// Visits, trap catches and first sightings known by `today`.
    pub records: Vec<Record>,
    /// What really happened and will happen, for tests. Never stored.
    pub truth: Vec<Truth>,
}

/// The true course of one brood on one reach in one season.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// The reach.
    pub reach: Slug,
    /// The taxon.
    pub taxon: Slug,
    /// The brood, from 1.
    pub brood: u8,
    /// The season.
    pub season: i32,
    /// Share emerged by the end of each day, from 1 January.
    pub cumulative: Vec<f64>,
}

impl Truth {
    /// The day on which `share` of the season's emergence is reached; `None` if it is not.
    #[must_use]
    pub fn date_of(&self, share: f64) -> Option<NaiveDate> {
        let index = self.cumulative.iter().position(|c| *c >= share)?;
        NaiveDate::from_yo_opt(self.season, index as u32 + 1)
    }

    /// Share that emerges on day of year `day` (1-based).
    #[must_use]
    pub fn share_on(&self, day: usize) -> f64 {
        let at = |d: usize| self.cumulative.get(d).copied().unwrap_or(1.0);
        match day {
            0 => 0.0,
            1 => at(0),
            _ => at(day - 1) - at(day - 2),
        }
    }
}

/// A stream of chance of its own for every purpose and season, so that more of one does not shift
/// another.
pub(super) fn chance(seed: u64, purpose: &str, season: i32) -> Pcg64 {
    // FNV-1a over the purpose; only its being fixed matters.
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    for byte in purpose.bytes().chain(season.to_le_bytes()) {
        hash = (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3);
    }
    Pcg64::seed_from_u64(seed ^ hash)
}

/// Simulates six seasons before that of `today` and the running one up to `today`.
///
/// # Errors
/// [`Invalid`] when a made value breaks a rule of the domain, which would be a fault of this module.
pub fn simulate(seed: u64, today: NaiveDate) -> Result<Simulated, Invalid> {
    let (watershed, reaches, gauges) = club::describe()?;
    let first_year = today.year() - PAST_SEASONS;
    let mut readings = Vec::new();
    let mut records = Vec::new();
    let mut truth = Vec::new();
    for season in first_year..=today.year() {
        let air = weather::air_anomaly(seed, season);
        let temperatures: BTreeMap<&'static str, Vec<water::Day>> =
            club::WATERS.iter().map(|w| (w.gauge, water::year(seed, season, w, &air))).collect();
        readings.extend(water::readings(seed, season, &temperatures, watershed.time_zone, today)?);
        let course = emergence::season(seed, season, &temperatures)?;
        records.extend(watching::season(seed, season, &temperatures, &course, watershed.time_zone, today)?);
        truth.extend(course);
    }
    let taxa = taxa::slugs()?;
    Ok(Simulated { watershed, reaches, gauges, taxa, readings, records, truth })
}

/// Day length in hours from the textbook declination `23.44 sin(2 pi (284 + n) / 365)`, the centre of
/// the sun on a flat horizon; good to a quarter of an hour, which is enough to invent with.
pub(super) fn day_length_hours(day_of_year: usize) -> f64 {
    let declination = 23.44_f64.to_radians() * (std::f64::consts::TAU * (284.0 + day_of_year as f64) / 365.0).sin();
    let x = -(club::LATITUDE.to_radians().tan()) * declination.tan();
    24.0 / std::f64::consts::PI * x.clamp(-1.0, 1.0).acos()
}

/// Days of `season`.
pub(super) fn days_in(season: i32) -> usize {
    if NaiveDate::from_ymd_opt(season, 2, 29).is_some() { 366 } else { 365 }
}

/// The date of day `day` (1-based) of `season`.
pub(super) fn date_of(season: i32, day: usize) -> Result<NaiveDate, Invalid> {
    NaiveDate::from_yo_opt(season, day as u32).ok_or_else(|| Invalid::new("date", day, "must be a day of the season"))
}

#[cfg(test)]
mod tests;
