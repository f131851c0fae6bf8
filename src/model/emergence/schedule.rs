//! When and with what effort a watershed usually looks: the visits that predictive dates assume.

use serde::{Deserialize, Serialize};

use crate::model::posterior::{Dataset, Outcome};

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
}

/// The visits of one past season at one site.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Schedule {
    /// The site.
    pub site: usize,
    /// In order of day.
    pub visits: Vec<UsualVisit>,
}

/// A season needs this many visits to serve as a model of the next.
const LEAST_VISITS: usize = 4;

/// The schedules of `data`, one per site-year with enough visits; first sightings have none.
#[must_use]
pub fn schedules(data: &Dataset) -> Vec<Schedule> {
    let mut found: Vec<Schedule> = Vec::new();
    for unit in &data.units {
        let mut visits: Vec<UsualVisit> = unit
            .observations
            .iter()
            .filter(|o| !matches!(o.outcome, Outcome::First { .. }))
            .map(|o| UsualVisit {
                from_day: o.from_day,
                to_day: o.to_day,
                log_effort: o.log_effort,
                counted: matches!(o.outcome, Outcome::Count(_)),
            })
            .collect();
        visits.sort_by_key(|v| (v.to_day, v.from_day));
        visits.dedup_by_key(|v| v.to_day);
        if visits.len() >= LEAST_VISITS {
            found.push(Schedule { site: unit.site, visits });
        }
    }
    found
}

/// The schedules to draw from for `site`: its own, else (fewer than two) all of the watershed.
#[must_use]
pub fn for_site(all: &[Schedule], site: Option<usize>) -> Vec<&Schedule> {
    let own: Vec<&Schedule> = all.iter().filter(|s| Some(s.site) == site).collect();
    if own.len() >= 2 { own } else { all.iter().collect() }
}
