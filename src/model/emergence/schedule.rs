//! When and with what effort a watershed usually looks: the visits that predictive dates assume.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::model::posterior::{Dataset, Hours, Outcome, Protocol, Unit};

use super::shown::telling;

/// One usual visit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct UsualVisit {
    /// Day before the first day covered.
    pub from_day: usize,
    /// Day of the visit.
    pub to_day: usize,
    /// Log effort.
    pub log_effort: f64,
    /// True when insects are counted, false when a class is noted.
    pub counted: bool,
    /// Hours watched; `None` for whole days.
    pub hours: Option<Hours>,
}

/// The visits of one past season at one site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Schedule {
    /// The site.
    pub site: usize,
    /// How it was looked at.
    pub protocol: Protocol,
    /// In order of day, one a day.
    pub visits: Vec<UsualVisit>,
}

/// A last season whose visits end so many days before the usual end is still running.
const OPEN_DAYS: usize = 21;

/// The schedules of `data`, one per site-year with enough visits; first sightings have none.
#[must_use]
pub fn schedules(data: &Dataset) -> Vec<Schedule> {
    let open = open_year(data);
    data.units.iter().filter(|unit| Some(unit.year) != open).filter_map(|unit| schedule_of(unit, data.window)).collect()
}

/// The last year of `data` when its visits stop well before those of the other years usually do: a
/// season still running. It tells neither the usual visits nor the dates of a whole season.
#[must_use]
pub fn open_year(data: &Dataset) -> Option<usize> {
    let mut last_days: BTreeMap<usize, usize> = BTreeMap::new();
    for unit in &data.units {
        let last = last_days.entry(unit.year).or_default();
        *last = (*last).max(unit.last_day());
    }
    let (year, last) = last_days.pop_last()?;
    let mut others: Vec<usize> = last_days.into_values().collect();
    others.sort_unstable();
    let usual = *others.get(others.len() / 2)?;
    (last + OPEN_DAYS < usual).then_some(year)
}

/// The visits made in one site-year that tell its dates; `None` with too few.
#[must_use]
pub fn schedule_of(unit: &Unit, window: (usize, usize)) -> Option<Schedule> {
    let (protocol, list) = telling(unit, window)?;
    let mut visits: Vec<UsualVisit> = list
        .into_iter()
        .map(|o| UsualVisit {
            from_day: o.from_day,
            to_day: o.to_day,
            log_effort: o.log_effort,
            counted: matches!(o.outcome, Outcome::Count(_)),
            hours: o.hours,
        })
        .collect();
    visits.sort_by_key(|v| (v.to_day, v.from_day));
    visits.dedup_by_key(|v| v.to_day);
    Some(Schedule { site: unit.site, protocol, visits })
}

/// The schedules to draw from for `site`: its own, else (fewer than two) all of the watershed.
#[must_use]
pub fn for_site(all: &[Schedule], site: Option<usize>) -> Vec<&Schedule> {
    let own: Vec<&Schedule> = all.iter().filter(|s| Some(s.site) == site).collect();
    if own.len() >= 2 { own } else { all.iter().collect() }
}
