//! What the invented members saw and wrote down.

mod firsts;
mod traps;
mod visits;

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeZone, Utc};
use chrono_tz::Tz;
use rand::Rng;
use rand_distr::{Distribution, Gamma, Poisson};

use super::club::Stretch;
use super::taxa::Life;
use super::water::Day;
use super::{SOURCE, Truth};
use crate::domain::record::Weather;
use crate::domain::{AbundanceClass, Invalid, Record, RecordKind, Slug};

/// Dispersion of counts: the variance is `mean + mean^2 / DISPERSION`.
const DISPERSION: f64 = 1.5;

/// What the observers of one season work with.
pub(super) struct Scene<'a> {
    seed: u64,
    season: i32,
    temperatures: &'a BTreeMap<&'static str, Vec<Day>>,
    course: &'a [Truth],
    time_zone: Tz,
    today: NaiveDate,
}

/// All records of `season` that are in the books by the end of `today`.
pub(super) fn season(
    seed: u64,
    season: i32,
    temperatures: &BTreeMap<&'static str, Vec<Day>>,
    course: &[Truth],
    time_zone: Tz,
    today: NaiveDate,
) -> Result<Vec<Record>, Invalid> {
    let scene = Scene { seed, season, temperatures, course, time_zone, today };
    let mut records = visits::records(&scene)?;
    records.extend(traps::records(&scene)?);
    records.extend(firsts::records(&scene)?);
    let closing = scene.local(today + Days::new(1), 0)?;
    records.retain(|r| r.date_to <= today && r.known_at <= closing);
    Ok(records)
}

impl Scene<'_> {
    /// Insects past one watcher on day `day` at `stretch`, all broods together.
    fn insects_on(&self, life: &Life, stretch: &Stretch, common: f64, day: usize) -> f64 {
        self.course
            .iter()
            .filter(|t| t.taxon.as_str() == life.taxon && t.reach.as_str() == stretch.slug)
            .zip(life.waves)
            .map(|(truth, wave)| wave.thousands * 1000.0 * common * truth.share_on(day))
            .sum()
    }

    fn mean_c(&self, stretch: &Stretch, day: usize) -> f64 {
        let days = self.temperatures.get(stretch.gauge);
        days.and_then(|d| d.get(day - 1)).map_or(10.0, |d| d.mean_c) + stretch.warmer_c
    }

    /// The instant of `hour` o'clock on `date` at the river.
    fn local(&self, date: NaiveDate, hour: u32) -> Result<DateTime<Utc>, Invalid> {
        let time = NaiveTime::from_hms_opt(hour, 0, 0).unwrap_or_default();
        self.time_zone
            .from_local_datetime(&date.and_time(time))
            .earliest()
            .map(|at| at.to_utc())
            .ok_or_else(|| Invalid::new("known_at", date, "must exist on the local clock"))
    }

    /// A record with nothing noted yet.
    fn blank(&self, stretch: &Stretch, life: &Life, kind: RecordKind, date: NaiveDate) -> Result<Record, Invalid> {
        Ok(Record {
            reach: Slug::new(stretch.slug)?,
            taxon: Slug::new(life.taxon)?,
            brood: None,
            kind,
            date_from: Some(date),
            date_to: date,
            count: None,
            abundance_class: None,
            effort: 1.0,
            hours: None,
            stage: None,
            weather: Weather::default(),
            external_id: None,
            known_at: self.local(date + Days::new(1), 12)?,
            known_assumed: false,
            source: SOURCE.to_owned(),
            doubts: Vec::new(),
            exposure_known: true,
        })
    }
}

/// A count around `mean`: negative binomial, as a Poisson count of a gamma-distributed mean.
fn count(rng: &mut impl Rng, mean: f64) -> u32 {
    let Ok(gamma) = Gamma::new(DISPERSION, mean.max(1e-9) / DISPERSION) else { return 0 };
    let Ok(poisson) = Poisson::new(gamma.sample(rng).max(1e-12)) else { return 0 };
    let drawn: f64 = poisson.sample(rng);
    drawn as u32
}

/// The class that a member notes for so many insects seen.
fn class_of(seen: u32) -> AbundanceClass {
    match seen {
        0 => AbundanceClass::None,
        1..=7 => AbundanceClass::Sparse,
        8..=45 => AbundanceClass::Moderate,
        _ => AbundanceClass::Heavy,
    }
}
