//! From field reports to visits: who watched one reach at one time made one visit together.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use chrono_tz::Tz;

use super::observations::Subject;
use crate::domain::{AbundanceClass, Reach, Report, ReportState, Slug, Taxon};
use crate::model::daylength::mean_solar_hour;
use crate::model::posterior::Hours;

/// Reports no further apart are of one visit: members write down quarters of an hour (our choice, no source).
const APART: TimeDelta = TimeDelta::minutes(15);
/// A visit so long has seen every hour of a day.
const WHOLE_DAY: TimeDelta = TimeDelta::hours(24);

/// One watching of one taxon at one reach, by one or several members.
#[derive(Debug, Clone)]
pub(super) struct Visit {
    pub(super) reach: Slug,
    pub(super) start: DateTime<Utc>,
    pub(super) end: DateTime<Utc>,
    /// People watching, on average over its time.
    pub(super) people: f64,
    pub(super) class: AbundanceClass,
    pub(super) count: Option<u32>,
}

impl Visit {
    /// The day that it tells of: on which it began, or on which most of a visit of a day or more lay.
    pub(super) fn date(&self, zone: Tz) -> NaiveDate {
        let at = if self.is_of_a_day() { self.start + self.length() / 2 } else { self.start };
        at.with_timezone(&zone).date_naive()
    }

    /// First and last day on which it may have seen what it saw; one watched over midnight is of its evening.
    pub(super) fn days(&self, zone: Tz) -> (NaiveDate, NaiveDate) {
        let last = if self.is_of_a_day() { self.end } else { self.start };
        (self.start.with_timezone(&zone).date_naive(), last.with_timezone(&zone).date_naive())
    }

    /// Whether it has seen every hour.
    pub(super) fn is_of_a_day(&self) -> bool {
        self.length() >= WHOLE_DAY
    }

    /// Its hours in local mean solar time, 24 at most.
    pub(super) fn solar_hours(&self, reach: &Reach) -> Hours {
        let start = mean_solar_hour(self.start, reach.longitude);
        Hours { start, end: start + hours(self.length().min(WHOLE_DAY)), water_c: f64::NAN }
    }

    fn length(&self) -> TimeDelta {
        self.end - self.start
    }
}

fn hours(length: TimeDelta) -> f64 {
    length.num_seconds() as f64 / 3600.0
}

/// What accepted reports say of `taxon`. Reports of one reach that overlap or touch are one visit with more
/// people: they watched the same water. What was watched at other hours of the day is a visit of its own, for a
/// blank morning says nothing of the evening.
pub(super) fn report_visits(taxon: &Taxon, reports: &[Report], subject: Subject) -> Vec<Visit> {
    let mut of_reach: BTreeMap<&Slug, Vec<Visit>> = BTreeMap::new();
    for report in reports.iter().filter(|r| r.state == ReportState::Accepted) {
        if let Some(visit) = of_report(taxon, report, subject) {
            of_reach.entry(&report.reach).or_default().push(visit);
        }
    }
    of_reach.into_values().flat_map(joined).collect()
}

/// What one report says of `taxon`; `None` where it leaves that open.
fn of_report(taxon: &Taxon, report: &Report, subject: Subject) -> Option<Visit> {
    let sightings = || report.sightings.iter().filter(|s| s.taxon.as_ref() == Some(&taxon.slug));
    let looked = report.looked_for.as_ref().is_none_or(|list| list.contains(&taxon.slug));
    if !looked && sightings().next().is_none() {
        return None;
    }
    let telling = || sightings().filter(|s| subject.is_told_by(Some(s.stage)));
    if sightings().next().is_some() && sightings().all(|s| subject.is_left_open_by(s.stage)) {
        return None;
    }
    // A sighting without class or count says at least sparse.
    let class =
        telling().map(|s| s.abundance_class.unwrap_or(AbundanceClass::Sparse)).max().unwrap_or(AbundanceClass::None);
    Some(Visit {
        reach: report.reach.clone(),
        start: report.started_at,
        end: report.ended_at.max(report.started_at),
        people: f64::from(report.people.max(1)),
        class,
        count: telling().filter(|s| s.abundance_class.is_none()).filter_map(|s| s.count).max(),
    })
}

/// Visits of one reach, those that overlap or touch put together, in order of time.
fn joined(mut visits: Vec<Visit>) -> Vec<Visit> {
    // The order in which reports came in must not matter, to the last bit of a sum.
    visits.sort_by(|a, b| (a.start, a.end).cmp(&(b.start, b.end)).then(a.people.total_cmp(&b.people)));
    let mut groups: Vec<Vec<Visit>> = Vec::new();
    let mut end = DateTime::<Utc>::MIN_UTC;
    for visit in visits {
        let joins = visit.start - end <= APART;
        end = if joins { end.max(visit.end) } else { visit.end };
        if let Some(group) = groups.last_mut().filter(|_| joins) {
            group.push(visit);
        } else {
            groups.push(vec![visit]);
        }
    }
    groups.into_iter().filter_map(together).collect()
}

/// One visit of all of `group`, which is in order of start.
fn together(group: Vec<Visit>) -> Option<Visit> {
    let person_hours: f64 = group.iter().map(|visit| visit.people * hours(visit.length())).sum();
    let mut all = group.into_iter().reduce(|all, one| Visit {
        end: all.end.max(one.end),
        people: all.people + one.people,
        class: all.class.max(one.class),
        count: all.count.max(one.count),
        ..all
    })?;
    // Who comes when another goes makes the visit longer, not the company larger.
    if all.length() > TimeDelta::zero() {
        all.people = person_hours / hours(all.length());
    }
    Some(all)
}

#[cfg(test)]
mod tests;
