//! Records and reports as events with what was found at them, in an order that depends on nothing but what they say.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime};
use chrono_tz::Tz;
use uuid::Uuid;

use super::reports::{public, without_name};
use crate::domain::record::Weather;
use crate::domain::{Record, RecordKind, Report, Slug};

/// Identifiers of events and occurrences are made from this and what they say: the same data give the same archive.
const NAMESPACE: Uuid = Uuid::from_u128(0x5d0b_8a52_2f3e_5c1a_9b77_40c6_e2a1_7f94);

/// What all records of one event have in common.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::app) struct Shared {
    /// The reach.
    pub(in crate::app) reach: Slug,
    /// How the records were made.
    pub(in crate::app) kind: RecordKind,
    /// As in [`Record::date_from`].
    pub(in crate::app) date_from: Option<NaiveDate>,
    /// As in [`Record::date_to`].
    pub(in crate::app) date_to: NaiveDate,
    /// Local clock hours.
    pub(in crate::app) hours: Option<(NaiveTime, NaiveTime)>,
    /// People, traps or hours of light.
    pub(in crate::app) effort: f64,
    /// Weather noted.
    pub(in crate::app) weather: Weather,
}

impl Shared {
    fn of(record: &Record) -> Self {
        Self {
            reach: record.reach.clone(),
            kind: record.kind,
            date_from: record.date_from,
            date_to: record.date_to,
            hours: record.hours,
            effort: record.effort,
            weather: record.weather,
        }
    }

    /// What everyone may know of a report's visit.
    fn of_report(report: &Report, zone: Tz) -> Self {
        let date = report.started_at.with_timezone(&zone).date_naive();
        Self {
            reach: report.reach.clone(),
            kind: RecordKind::Visit,
            date_from: Some(date),
            date_to: date,
            hours: None,
            effort: 1.0,
            weather: Weather::default(),
        }
    }

    /// As text, the same for the records of one event.
    fn key(&self) -> String {
        let Self { reach, kind, date_from, date_to, hours, effort, weather } = self;
        format!("{} {} {date_from:?} {date_to} {effort} {hours:?} {weather:?}", reach.key(), kind.as_str())
    }
}

/// One event: a visit, the days of a trap, a first sighting.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::app) struct Sample {
    /// Its identifier.
    pub(in crate::app) id: Uuid,
    /// True for a member's report, of which less is told.
    pub(in crate::app) reported: bool,
    /// What its records have in common.
    pub(in crate::app) like: Shared,
    /// What was found and what was looked for in vain.
    pub(in crate::app) found: Vec<Found>,
}

impl Sample {
    /// First day covered: a trap's begin after the day it was set on.
    pub(in crate::app) fn first_day(&self) -> NaiveDate {
        match (self.like.kind, self.like.date_from) {
            (RecordKind::Trap, Some(from)) if from < self.like.date_to => from.succ_opt().unwrap_or(self.like.date_to),
            _ => self.like.date_to,
        }
    }
}

/// One occurrence.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::app) struct Found {
    /// Its identifier.
    pub(in crate::app) id: Uuid,
    /// What it says.
    pub(in crate::app) record: Record,
}

/// All events of a watershed by day and reach, and how many sightings had no name.
pub(in crate::app) fn samples(
    watershed: &Slug,
    zone: Tz,
    residents: &[Slug],
    records: Vec<Record>,
    reports: &[Report],
) -> (Vec<Sample>, u64) {
    let named = |what: String| Uuid::new_v5(&NAMESPACE, format!("{} {what}", watershed.key()).as_bytes());
    let found = |record: Record| Found { id: named(record.key()), record };
    let mut by_sample: BTreeMap<String, (Shared, Vec<Found>)> = BTreeMap::new();
    for record in records {
        let shared = Shared::of(&record);
        by_sample.entry(shared.key()).or_insert_with(|| (shared, Vec::new())).1.push(found(record));
    }
    let of_records = by_sample.into_iter().map(|(key, (like, found))| {
        let id = named(format!("event {key}"));
        Sample { id, reported: false, like, found }
    });
    let mut samples: Vec<Sample> = of_records.collect();
    samples.extend(reports.iter().map(|report| Sample {
        id: report.id,
        reported: true,
        like: Shared::of_report(report, zone),
        found: public(report, zone, residents).into_iter().map(&found).collect(),
    }));
    samples.sort_by(|a, b| {
        let key = |s: &Sample| (s.like.date_to, s.like.reach.key(), s.id);
        key(a).cmp(&key(b))
    });
    (samples, reports.iter().map(without_name).sum())
}
