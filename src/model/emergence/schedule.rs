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

impl Schedule {
    /// Day of the last visit.
    #[must_use]
    pub fn last_day(&self) -> usize {
        self.visits.last().map_or(0, |visit| visit.to_day)
    }
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

/// Seasons of the watershed that weigh as much as the site's own: one year's late start or early end
/// says little about the next (our choice, no source).
const OTHERS_WEIGH: usize = 4;
/// Length of a list to draw from, where there is a choice.
const DRAWN: usize = 50;

/// The schedules to draw from for `site`, in turn: its own, and those of the other sites that look in
/// the same way, which together weigh as much as [`OTHERS_WEIGH`] seasons.
#[must_use]
pub fn for_site(all: &[Schedule], site: Option<usize>) -> Vec<&Schedule> {
    let (own, others): (Vec<&Schedule>, Vec<&Schedule>) = all.iter().partition(|s| Some(s.site) == site);
    let alike = |s: &&&Schedule| own.is_empty() || own.iter().any(|o| o.protocol == s.protocol);
    let others: Vec<&Schedule> = others.iter().filter(alike).copied().collect();
    if own.is_empty() || others.is_empty() {
        return if own.is_empty() { others } else { own };
    }
    let of_own = DRAWN * own.len() / (own.len() + OTHERS_WEIGH);
    // Evenly through each list, so that long ones are not cut short.
    let through = |list: &[&'_ Schedule], n: usize| -> Vec<usize> { (0..n).map(|k| k * list.len() / n).collect() };
    let mut drawn: Vec<&Schedule> = through(&own, of_own).into_iter().map(|k| own[k]).collect();
    drawn.extend(through(&others, DRAWN - of_own).into_iter().map(|k| others[k]));
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;

    fn schedule(site: usize, protocol: Protocol) -> Schedule {
        Schedule { site, protocol, visits: Vec::new() }
    }

    #[test]
    fn few_own_seasons_are_joined_by_those_of_other_sites() {
        let mut all: Vec<Schedule> = (0..3).flat_map(|site| vec![schedule(site, Protocol::Trap); 4]).collect();
        all.extend(vec![schedule(3, Protocol::Visit); 2]);
        let own = |site: usize| {
            let list = for_site(&all, Some(site));
            (list.iter().filter(|s| s.site == site).count(), list.len())
        };
        // Four of its own against what weighs as four; nobody else looks as site 3 does.
        assert_eq!(own(0), (25, 50));
        assert_eq!(own(3), (2, 2));
        assert!(for_site(&all, Some(0)).iter().all(|s| s.protocol == Protocol::Trap));
        assert_eq!(for_site(&all, Some(9)).len(), 14);
        // A single season weighs a fifth, and every other site is heard.
        let list = [schedule(0, Protocol::Trap)].into_iter().chain(all[4..8].to_vec()).chain(all[8..12].to_vec());
        let list: Vec<Schedule> = list.collect();
        let drawn = for_site(&list, Some(0));
        assert_eq!(drawn.iter().filter(|s| s.site == 0).count(), 10);
        assert_eq!(drawn.iter().filter(|s| s.site == 1).count(), 20);
    }
}
