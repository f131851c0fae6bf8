//! From stored records and field reports to what the likelihood sees.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime, TimeZone};

use crate::domain::record::Weather;
use crate::domain::season::{Cycle, Season};
use crate::domain::{
    AbundanceClass, Brood, Reach, Record, RecordKind, Report, ReportState, Slug, Stage, Taxon, Watershed,
};
use crate::model::daylength::mean_solar_hour;
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
    fn is_left_open_by(self, stage: Stage) -> bool {
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
    for visit in report_visits(watershed, taxon, reports, Subject::Emergence) {
        let Some(reach) = reach_of.get(&visit.reach) else { continue };
        let one = place_visit(watershed, reach, &visit, cycle.containing(visit.date));
        if brood_of(taxon, visit.date) == brood || is_blank(one.observation.outcome) {
            placed.push(one);
        }
    }
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
    let solar = |time: NaiveTime| {
        let local = watershed.time_zone.from_local_datetime(&date.and_time(time)).earliest();
        // A clock hour that summer time skips is read as standard time.
        let at = local.map_or_else(|| date.and_time(time).and_utc(), |l| l.to_utc());
        mean_solar_hour(at, reach.longitude)
    };
    let start = solar(start);
    let mut end = solar(end);
    if end <= start {
        end += 24.0;
    }
    Hours { start, end, water_c: f64::NAN }
}

/// One evening's watching of one taxon at one reach, by one or several members.
pub(super) struct Visit {
    pub(super) reach: Slug,
    pub(super) date: NaiveDate,
    pub(super) start: NaiveTime,
    pub(super) end: NaiveTime,
    pub(super) people: u32,
    pub(super) class: AbundanceClass,
    pub(super) count: Option<u32>,
}

/// Reports of one reach and day are one visit with more people: they watched the same water.
pub(super) fn report_visits(watershed: &Watershed, taxon: &Taxon, reports: &[Report], subject: Subject) -> Vec<Visit> {
    let mut visits: BTreeMap<(Slug, NaiveDate), Visit> = BTreeMap::new();
    for report in reports.iter().filter(|r| r.state == ReportState::Accepted) {
        let sightings = || report.sightings.iter().filter(|s| s.taxon.as_ref() == Some(&taxon.slug));
        let looked = report.looked_for.as_ref().is_none_or(|list| list.contains(&taxon.slug));
        if !looked && sightings().next().is_none() {
            continue;
        }
        let telling = || sightings().filter(|s| subject.is_told_by(Some(s.stage)));
        if sightings().next().is_some() && sightings().all(|s| subject.is_left_open_by(s.stage)) {
            continue;
        }
        // A sighting without class or count says at least sparse.
        let class = telling()
            .map(|s| s.abundance_class.unwrap_or(AbundanceClass::Sparse))
            .max()
            .unwrap_or(AbundanceClass::None);
        let count = telling().filter(|s| s.abundance_class.is_none()).filter_map(|s| s.count).max();
        let start = report.started_at.with_timezone(&watershed.time_zone);
        let end = report.ended_at.with_timezone(&watershed.time_zone);
        let date = start.date_naive();
        let one = Visit {
            reach: report.reach.clone(),
            date,
            start: start.time(),
            end: end.time(),
            people: report.people.max(1),
            class,
            count,
        };
        visits
            .entry((report.reach.clone(), date))
            .and_modify(|v| {
                v.people += one.people;
                v.start = v.start.min(one.start);
                v.end = v.end.max(one.end);
                v.class = v.class.max(one.class);
                v.count = v.count.max(one.count);
            })
            .or_insert(one);
    }
    visits.into_values().collect()
}

fn place_visit(watershed: &Watershed, reach: &Reach, visit: &Visit, season: Season) -> Placed {
    let to = season.day_number(visit.date) as usize;
    let observation = Observation {
        from_day: to - 1,
        to_day: to,
        outcome: match visit.count {
            // A bare count of a visit stays on the class scale: one insect is already "some seen".
            Some(0) => Outcome::Class(0),
            Some(_) | None => Outcome::Class(visit.class.index()),
        },
        protocol: Protocol::Visit,
        log_effort: 0.5 * f64::from(visit.people).ln(),
        hours: Some(solar_hours(watershed, reach, visit.date, visit.start, visit.end)),
        x: [0.0; COVARIATES],
    };
    Placed { reach: visit.reach.clone(), year: season.year, observation }
}
