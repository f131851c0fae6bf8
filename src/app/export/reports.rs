//! Reports as visits, one for each taxon looked for and each stage seen.

use std::collections::BTreeMap;

use chrono_tz::Tz;

use crate::domain::civil::{end_of_day, start_of_day};
use crate::domain::record::Weather;
use crate::domain::{AbundanceClass, Record, RecordKind, Report, Slug, Stage};

/// What was seen of one taxon in one stage.
type Seen = (Option<AbundanceClass>, Option<u32>);

/// What everyone may see of `report`: day, reach, taxa, stages and classes. A sighting without a class has none; no
/// count is given for it.
#[must_use]
pub fn public(report: &Report, zone: Tz, residents: &[Slug]) -> Vec<Record> {
    let date = report.started_at.with_timezone(&zone).date_naive();
    let visit = |taxon: Slug, stage: Option<Stage>, class: Option<AbundanceClass>| {
        let named = stage.map_or_else(String::new, |stage| format!("/{}", stage.as_str()));
        Record {
            reach: report.reach.clone(),
            external_id: Some(format!("{}/{}{named}", report.id, taxon.key())),
            taxon,
            brood: None,
            kind: RecordKind::Visit,
            date_from: Some(date),
            date_to: date,
            count: None,
            abundance_class: class,
            effort: 1.0,
            hours: None,
            stage,
            weather: Weather::default(),
            known_at: end_of_day(zone, date),
            known_assumed: true,
            source: format!("report:{}", report.id),
            doubts: Vec::new(),
            exposure_known: true,
        }
    };
    let mut visits: Vec<Record> =
        seen(report).into_iter().map(|((taxon, stage), (class, _))| visit(taxon.clone(), Some(stage), class)).collect();
    let looked_for = report.looked_for.as_deref().unwrap_or(residents);
    for taxon in looked_for {
        if !visits.iter().any(|visit| visit.taxon == *taxon) {
            visits.push(visit(taxon.clone(), None, Some(AbundanceClass::None)));
        }
    }
    visits
}

/// What the club itself has of `report`: also hours, people and counts. A sighting with neither class nor count is
/// sparse at least.
#[must_use]
pub fn whole(report: &Report, zone: Tz, residents: &[Slug]) -> Vec<Record> {
    let local = |at: chrono::DateTime<chrono::Utc>| at.with_timezone(&zone).time();
    let hours = Some((local(report.started_at), local(report.ended_at)));
    // Hours are noted in minutes, and an interval has some.
    let hours = hours.filter(|(start, end)| super::tables::clock(*start) != super::tables::clock(*end));
    let counted = seen(report);
    let fill = |mut visit: Record| {
        let found = visit.stage.and_then(|stage| counted.get(&(&visit.taxon, stage)));
        visit.count = found.and_then(|(_, count)| *count);
        if visit.count.is_none() && visit.abundance_class.is_none() {
            visit.abundance_class = Some(AbundanceClass::Sparse);
        }
        // A clock that ran behind must not make a visit known before its day.
        let known_at = report.received_at.max(start_of_day(zone, visit.date_to));
        Record { hours, effort: f64::from(report.people.max(1)), known_at, known_assumed: false, ..visit }
    };
    public(report, zone, residents).into_iter().map(fill).collect()
}

/// Sightings with a name, those of one taxon and stage as one with the most of each.
fn seen(report: &Report) -> BTreeMap<(&Slug, Stage), Seen> {
    let mut seen: BTreeMap<(&Slug, Stage), Seen> = BTreeMap::new();
    for sighting in &report.sightings {
        let Some(taxon) = &sighting.taxon else { continue };
        let found = seen.entry((taxon, sighting.stage)).or_default();
        *found = (found.0.max(sighting.abundance_class), found.1.max(sighting.count));
    }
    seen
}

/// Sightings without a name: they are in no export.
#[must_use]
pub fn without_name(report: &Report) -> u64 {
    report.sightings.iter().filter(|sighting| sighting.taxon.is_none()).count() as u64
}
