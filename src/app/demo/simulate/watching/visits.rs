//! Members' visits: weekends mostly, one reach at a time, some at noon and some at dusk, many blank.

use chrono::{Datelike, Days, NaiveTime, Weekday};
use rand::RngExt;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;
use statrs::distribution::{ContinuousCDF, Normal};

use super::super::club::{STRETCHES, Stretch};
use super::super::taxa::{LIVES, Life};
use super::super::{PAST_SEASONS, chance, date_of, day_length_hours};
use super::{Scene, class_of, count};
use crate::domain::record::Weather;
use crate::domain::{Invalid, Record, RecordKind, Stage};

/// Spinners past one watcher for each dun that emerged the day before, and the hours from sunset at which most
/// fly, with their spread.
const SPINNERS_PER_DUN: f64 = 0.5;
const SPINNERS_AFTER_SUNSET: (f64, f64) = (-0.3, 0.7);
/// Mean evening wind, km/h; flights shrink by this part for each 10 km/h above 10.
const WIND_KMH: f64 = 9.0;
const LESS_IN_WIND: f64 = 0.6;
/// The river keeps summer time while spinners fly: its noon comes at about this hour.
const NOON: f64 = 13.1;
/// First and last day of the year on which anyone goes.
const CLUB_YEAR: std::ops::RangeInclusive<usize> = 60..=300;
/// Days around a taxon's season in which members still look for it.
const MARGIN_DAYS: f64 = 25.0;
/// Spread of what one visit sees more or less than another, on the log scale.
const VISIT_SD: f64 = 0.4;

/// One visit: where, when, who, and the sky.
struct Visit {
    number: usize,
    day: usize,
    stretch: usize,
    from_hour: f64,
    to_hour: f64,
    people: u32,
    cloud: f64,
    late_entry_days: u64,
}

/// The records of all visits of the season.
pub(super) fn records(scene: &Scene<'_>) -> Result<Vec<Record>, Invalid> {
    let mut rng = chance(scene.seed, "visits", scene.season);
    let mut dusk = chance(scene.seed, "spinners", scene.season);
    let mut records = Vec::new();
    // Long ago fewer visits were written down.
    let kept = if scene.season < scene.today.year() - PAST_SEASONS + 2 { 0.5 } else { 1.0 };
    let mut number = 0;
    for day in CLUB_YEAR {
        let date = date_of(scene.season, day)?;
        let odds = match date.weekday() {
            Weekday::Sat | Weekday::Sun => 0.5,
            Weekday::Fri => 0.25,
            _ => 0.14,
        };
        if rng.random_bool(odds * kept) {
            number += 1;
            let visit = plan(&mut rng, number, day);
            records.extend(notes(scene, &visit, &mut rng)?);
            records.extend(spinners(scene, &visit, &mut dusk)?);
        }
    }
    Ok(records)
}

fn plan(rng: &mut Pcg64, number: usize, day: usize) -> Visit {
    let total: f64 = STRETCHES.iter().map(|s| s.visits).sum();
    let mut left = rng.random_range(0.0..total);
    let stretch = STRETCHES
        .iter()
        .position(|s| {
            left -= s.visits;
            left < 0.0
        })
        .unwrap_or(0);
    let evening = rng.random_bool(if (120..=250).contains(&day) { 0.6 } else { 0.15 });
    let from_hour = if evening { rng.random_range(17.0..20.0) } else { rng.random_range(10.5..14.5) };
    let from_hour = quarter(from_hour);
    let to_hour = quarter((from_hour + rng.random_range(1.5..4.0)).min(22.75));
    let late_entry_days = if rng.random_bool(0.15) { rng.random_range(6..30) } else { 0 };
    Visit {
        number,
        day,
        stretch,
        from_hour,
        to_hour,
        people: [1, 1, 1, 2, 2, 3][rng.random_range(0..6)],
        cloud: f64::from(rng.random_range(0..=4_u32)) / 4.0,
        late_entry_days,
    }
}

/// One record for every taxon looked for, blanks included.
fn notes(scene: &Scene<'_>, visit: &Visit, rng: &mut Pcg64) -> Result<Vec<Record>, Invalid> {
    let stretch = &STRETCHES[visit.stretch];
    let date = date_of(scene.season, visit.day)?;
    let counted = rng.random_bool(0.12);
    let sky_noted = rng.random_bool(0.6);
    let mut records = Vec::new();
    for life in LIVES.iter().filter(|life| is_looked_for(life, visit.day)) {
        let luck: f64 = StandardNormal.sample(rng);
        let seen = count(rng, expected(scene, visit, stretch, life, luck));
        let mut record = scene.blank(stretch, life, RecordKind::Visit, date)?;
        record.abundance_class = Some(class_of(seen));
        record.count = counted.then_some(seen);
        record.effort = f64::from(visit.people);
        record.hours = Some((clock(visit.from_hour), clock(visit.to_hour)));
        record.stage = (seen > 0).then_some(life.stage);
        record.weather = Weather { cloud: sky_noted.then_some(visit.cloud), ..Weather::default() };
        record.external_id = Some(format!("demo-visit-{}-{}-{}", scene.season, visit.number, life.taxon));
        record.known_at = scene.local(date + Days::new(1 + visit.late_entry_days), 12)?;
        records.push(record);
    }
    Ok(records)
}

/// One record for every mayfly whose spinners were seen; members note no blanks of them.
fn spinners(scene: &Scene<'_>, visit: &Visit, rng: &mut Pcg64) -> Result<Vec<Record>, Invalid> {
    let stretch = &STRETCHES[visit.stretch];
    let date = date_of(scene.season, visit.day)?;
    let wind_kmh = (-WIND_KMH * rng.random_range(f64::EPSILON..1.0).ln()).round();
    let sunset = NOON + 0.5 * day_length_hours(visit.day);
    let normal = Normal::standard();
    let at = |hour: f64| normal.cdf((hour - sunset - SPINNERS_AFTER_SUNSET.0) / SPINNERS_AFTER_SUNSET.1);
    let hours_share = at(visit.to_hour) - at(visit.from_hour);
    let calm = (-LESS_IN_WIND * (wind_kmh - 10.0) / 10.0).exp().min(2.0);
    let mut records = Vec::new();
    for life in LIVES.iter().filter(|life| life.stage == Stage::Dun && is_looked_for(life, visit.day)) {
        let insects = scene.insects_on(life, stretch, life.common[visit.stretch], visit.day - 1);
        let mean = SPINNERS_PER_DUN * insects * hours_share * calm * f64::from(visit.people).sqrt();
        let seen = count(rng, mean);
        if seen > 0 {
            let mut record = scene.blank(stretch, life, RecordKind::Visit, date)?;
            record.abundance_class = Some(class_of(seen));
            record.effort = f64::from(visit.people);
            record.hours = Some((clock(visit.from_hour), clock(visit.to_hour)));
            record.stage = Some(Stage::Spinner);
            record.weather = Weather { wind_kmh: Some(wind_kmh), ..Weather::default() };
            record.external_id = Some(format!("demo-spinners-{}-{}-{}", scene.season, visit.number, life.taxon));
            records.push(record);
        }
    }
    Ok(records)
}

/// Insects that the visitors would see on average. Two see more than one, not twice as many.
fn expected(scene: &Scene<'_>, visit: &Visit, stretch: &Stretch, life: &Life, luck: f64) -> f64 {
    let insects = scene.insects_on(life, stretch, life.common[visit.stretch], visit.day);
    let peak_hour = life.hour.0 - life.earlier_when_warm * (scene.mean_c(stretch, visit.day) - 12.0);
    let normal = Normal::standard();
    let at = |hour: f64| normal.cdf((hour - peak_hour) / life.hour.1);
    let hours_share =
        0.98 * (at(visit.to_hour) - at(visit.from_hour)) + 0.02 * (visit.to_hour - visit.from_hour) / 24.0;
    let dull = (0.4 * (visit.cloud - 0.5)).exp();
    insects * hours_share * f64::from(visit.people).sqrt() * dull * (VISIT_SD * luck).exp()
}

fn is_looked_for(life: &Life, day: usize) -> bool {
    let first = life.waves.iter().map(|w| w.half_day - 3.0 * w.spread_days).fold(f64::INFINITY, f64::min);
    let last = life.waves.iter().map(|w| w.half_day + 4.0 * w.spread_days).fold(0.0, f64::max);
    (first - MARGIN_DAYS..=last + MARGIN_DAYS).contains(&(day as f64))
}

fn quarter(hour: f64) -> f64 {
    (hour * 4.0).round() / 4.0
}

fn clock(hour: f64) -> NaiveTime {
    let minutes = (hour * 60.0).round() as u32;
    NaiveTime::from_hms_opt(minutes / 60, minutes % 60, 0).unwrap_or_default()
}
