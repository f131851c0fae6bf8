//! From stored records and field reports to what the likelihood sees.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime};

use super::visits::{Visit, report_visits};
use crate::domain::civil::at_clock;
use crate::domain::record::Weather;
use crate::domain::season::{Cycle, Season};
use crate::domain::{Brood, Reach, Record, RecordKind, Report, Slug, Stage, Taxon, Watershed};
use crate::model::daylength::mean_solar_hour;
use crate::model::emergence::evening::weight_within_a_day;
use crate::model::posterior::data::{COVARIATES, rain_covariate};
use crate::model::posterior::{Hours, Observation, Outcome, Protocol, WHOLE_SEASON};

/// Days a trap is taken to have stood when nothing tells.
const DEFAULT_TRAP_DAYS: i64 = 7;
/// Wind at which its covariate is zero, and its unit, km/h.
const WIND_KMH: f64 = 10.0;

/// One record in the model's terms, with its place and season.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The reach.
    pub reach: Slug,
    /// The season.
    pub year: i32,
    /// The record; `hours.water_c` is still to be set from the day's water.
    pub observation: Observation,
}

/// What a note of a life stage speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Subject {
    /// Insects leaving the water that day.
    Emergence,
    /// Spinners, in the air or spent on the water.
    Flight,
}

impl Subject {
    /// Whether `stage` tells of it.
    pub(super) fn is_told_by(self, stage: Option<Stage>) -> bool {
        match self {
            Self::Emergence => !matches!(stage, Some(Stage::Nymph | Stage::Spinner | Stage::Spent)),
            Self::Flight => matches!(stage, Some(Stage::Spinner | Stage::Spent)),
        }
    }

    /// Whether a note of `stage` alone leaves open that there was something of this and nobody looked: nymphs
    /// under stones say nothing of winged insects, spinners at dusk nothing of the day's duns.
    pub(super) fn is_left_open_by(self, stage: Stage) -> bool {
        match self {
            Self::Emergence => !self.is_told_by(Some(stage)),
            Self::Flight => stage == Stage::Nymph,
        }
    }
}

/// Places every record of one taxon and brood. `records` are all records of the watershed known at
/// the time (other taxa tell the usual trap interval), `reports` all accepted reports.
#[must_use]
pub fn place(
    watershed: &Watershed,
    reaches: &[Reach],
    taxon: &Taxon,
    brood: u8,
    records: &[Record],
    reports: &[Report],
) -> Vec<Placed> {
    let (usual, cycle) = (usual_trap_days(records), Cycle::of(taxon));
    let reach_of: BTreeMap<&Slug, &Reach> = reaches.iter().map(|r| (&r.slug, r)).collect();
    let mut placed = Vec::new();
    for record in records.iter().filter(|r| r.taxon == taxon.slug && Subject::Emergence.is_told_by(r.stage)) {
        let Some(reach) = reach_of.get(&record.reach) else { continue };
        let trap_days = usual.get(&record.reach).copied().unwrap_or(DEFAULT_TRAP_DAYS);
        let one = place_record(watershed, reach, record, trap_days, cycle.containing(record.date_to));
        placed.extend(one.filter(|one| {
            let theirs = record.brood.unwrap_or_else(|| brood_of(taxon, record.date_to));
            theirs == brood || (record.brood.is_none() && is_blank(one.observation.outcome))
        }));
    }
    for visit in report_visits(taxon, reports, Subject::Emergence) {
        let Some(reach) = reach_of.get(&visit.reach) else { continue };
        let date = visit.date(watershed.time_zone);
        let one = place_visit(reach, &visit, cycle.containing(date), date);
        if brood_of(taxon, date) == brood || is_blank(one.observation.outcome) {
            placed.push(one);
        }
    }
    share_days(&mut placed);
    // The order of rows in a file must not matter.
    placed.sort_by(|a, b| {
        let key = |p: &Placed| (p.reach.key(), p.year, p.observation.to_day, p.observation.from_day);
        key(a).cmp(&key(b)).then_with(|| format!("{:?}", a.observation).cmp(&format!("{:?}", b.observation)))
    });
    placed
}

/// The brood that emergence on `date` belongs to: the one whose prior median is nearest.
#[must_use]
pub fn brood_of(taxon: &Taxon, date: NaiveDate) -> u8 {
    nearest_brood(taxon, Cycle::of(taxon).containing(date).day_number(date) as f64)
}

/// `day` is a day number of the taxon's season.
fn nearest_brood(taxon: &Taxon, day: f64) -> u8 {
    let cycle = Cycle::of(taxon);
    let apart = |brood: &Brood| (cycle.day_number(brood.median_day_of_year) - day).abs();
    taxon.broods.iter().min_by(|a, b| apart(a).total_cmp(&apart(b))).map_or(1, |b| b.number)
}

/// Nothing found tells that no brood was out.
fn is_blank(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::Class(0) | Outcome::Count(0))
}

/// First and last day of the season on which insects found are of `brood`, halfway to its
/// neighbours.
#[must_use]
pub fn brood_window(taxon: &Taxon, brood: u8) -> (usize, usize) {
    let days = (0..=366).filter(|day| nearest_brood(taxon, *day as f64) == brood);
    let (first, last) = days.fold((usize::MAX, 0), |(first, last), day| (first.min(day), last.max(day)));
    if first == 0 && last == 366 { WHOLE_SEASON } else { (first, if last == 366 { usize::MAX } else { last }) }
}

fn usual_trap_days(records: &[Record]) -> BTreeMap<Slug, i64> {
    let mut intervals: BTreeMap<Slug, Vec<i64>> = BTreeMap::new();
    for record in records.iter().filter(|r| r.kind == RecordKind::Trap && r.exposure_known) {
        if let Some(from) = record.date_from {
            intervals.entry(record.reach.clone()).or_default().push((record.date_to - from).num_days().max(1));
        }
    }
    intervals
        .into_iter()
        .map(|(reach, mut days)| {
            days.sort_unstable();
            let middle = days[days.len() / 2];
            (reach, middle)
        })
        .collect()
}

fn place_record(
    watershed: &Watershed,
    reach: &Reach,
    record: &Record,
    trap_days: i64,
    season: Season,
) -> Option<Placed> {
    let to = season.day_number(record.date_to);
    let day = |date: NaiveDate| season.day_number(date).max(0);
    let (from, outcome) = match record.kind {
        RecordKind::Visit => (to - 1, found(record)?),
        RecordKind::Trap => {
            let from = match record.date_from {
                // A trap row with equal dates covers that one day.
                Some(date) if record.exposure_known => day(date).min(to - 1),
                _ => (to - trap_days).max(0),
            };
            (from, found(record)?)
        }
        RecordKind::FirstSighting => {
            let looked_before = record.date_from.is_some();
            (record.date_from.map_or(0, day).min(to - 1), Outcome::First { looked_before })
        }
    };
    let effort = record.effort.max(f64::MIN_POSITIVE).ln();
    let log_effort = if record.kind == RecordKind::Trap { effort } else { 0.5 * effort };
    let hours = match record.kind {
        RecordKind::Visit => record.hours.map(|(start, end)| solar_hours(watershed, reach, record.date_to, start, end)),
        RecordKind::Trap | RecordKind::FirstSighting => None,
    };
    let observation = Observation {
        from_day: from as usize,
        to_day: to as usize,
        outcome,
        protocol: if record.kind == RecordKind::Trap { Protocol::Trap } else { Protocol::Visit },
        log_effort,
        hours,
        x: covariates(record.weather),
        weight: 1.0,
    };
    Some(Placed { reach: reach.slug.clone(), year: season.year, observation })
}

/// The count is used when both are given.
fn found(record: &Record) -> Option<Outcome> {
    match (record.count, record.abundance_class) {
        (Some(count), _) => Some(Outcome::Count(count)),
        (None, Some(class)) => Some(Outcome::Class(class.index())),
        (None, None) => None,
    }
}

/// What drives a day's duns besides its water: clouds, from half a sky, wind in units of 10 km/h from 10 km/h, and rain.
/// All are zero where nothing is known.
pub(super) fn covariates(weather: Weather) -> [f64; COVARIATES] {
    [
        weather.cloud.map_or(0.0, |cloud| cloud - 0.5),
        weather.wind_kmh.map_or(0.0, |wind| ((wind - WIND_KMH) / WIND_KMH).clamp(-2.0, 2.0)),
        rain_covariate(weather.rain_mm),
    ]
}

/// Clock hours of a local day as local mean solar hours.
pub(super) fn solar_hours(
    watershed: &Watershed,
    reach: &Reach,
    date: NaiveDate,
    start: NaiveTime,
    end: NaiveTime,
) -> Hours {
    let solar = |time: NaiveTime| mean_solar_hour(at_clock(watershed.time_zone, date.and_time(time)), reach.longitude);
    let start = solar(start);
    let mut end = solar(end);
    if end <= start {
        end += 24.0;
    }
    Hours { start, end, water_c: f64::NAN }
}

fn place_visit(reach: &Reach, visit: &Visit, season: Season, date: NaiveDate) -> Placed {
    let to = season.day_number(date) as usize;
    let observation = Observation {
        from_day: to - 1,
        to_day: to,
        outcome: match visit.count {
            // A bare count of a visit stays on the class scale: one insect is already "some seen".
            Some(0) => Outcome::Class(0),
            Some(_) | None => Outcome::Class(visit.class.index()),
        },
        protocol: Protocol::Visit,
        log_effort: 0.5 * visit.people.ln(),
        hours: (!visit.is_of_a_day()).then(|| visit.solar_hours(reach)),
        x: [0.0; COVARIATES],
        weight: 1.0,
    };
    Placed { reach: visit.reach.clone(), year: season.year, observation }
}

/// Gives visits of one reach and day the weight of such ones: they met the same air and the same water.
fn share_days(placed: &mut [Placed]) {
    let day = |one: &Placed| (one.reach.clone(), one.year, one.observation.to_day);
    let is_visit = |one: &&mut Placed| {
        one.observation.protocol == Protocol::Visit && !matches!(one.observation.outcome, Outcome::First { .. })
    };
    let mut visits: BTreeMap<(Slug, i32, usize), usize> = BTreeMap::new();
    for one in placed.iter_mut().filter(is_visit) {
        *visits.entry(day(one)).or_default() += 1;
    }
    for one in placed.iter_mut().filter(is_visit) {
        one.observation.weight = weight_within_a_day(visits[&day(one)]);
    }
}
