//! Checks of the days that traps were out: dates that were filled down, and pauses.
//!
//! Two faults of real trap records are looked for, on the visits of one reach, which all its taxa
//! share:
//!
//! - **Dates filled down.** Several traps of one visit were given one day each, so that a run of
//!   one-day intervals stands among weekly ones. Their days out are not to be believed.
//! - **Pauses.** The time since the previous visit is not exposure when the traps were in for the
//!   winter or a flood: beyond 15 days, or twice the reach's usual interval where that is longer, a
//!   new exposure begins.
//!
//! In both cases the record is kept and its exposure is taken as the reach's usual interval.

use std::collections::BTreeMap;

use chrono::NaiveDate;

/// Shortest pause that starts a new exposure, days.
pub const PAUSE_DAYS: i64 = 15;
/// Intervals are weekly or so from this length on, days.
const WEEKLY_DAYS: i64 = 4;
/// Fewest one-day intervals in a row that are doubted.
const RUN: usize = 2;
/// Fewest known intervals from which a usual one is told.
const MIN_INTERVALS: usize = 4;

/// The days one emptying of the traps covers: after `from` through `to`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Interval {
    /// Last day covered.
    pub to: NaiveDate,
    /// The day before the first day covered; unknown when `None`.
    pub from: Option<NaiveDate>,
}

impl Interval {
    /// The interval of a trap record as written: equal dates mean that one day.
    #[must_use]
    pub fn of_trap(from: Option<NaiveDate>, to: NaiveDate) -> Self {
        let from = if from == Some(to) { to.pred_opt() } else { from };
        Self { to, from }
    }

    /// Days covered, where known.
    #[must_use]
    pub fn days(self) -> Option<i64> {
        self.from.map(|from| (self.to - from).num_days())
    }
}

/// A doubt about one interval.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubt {
    /// In words.
    pub text: String,
    /// False when the days out are unknown or not to be believed.
    pub exposure_known: bool,
}

/// The usual interval of a reach, days: the median of the known ones. Where a third or more are
/// longer than a day, one-day intervals are left out, so that dates filled down do not set it.
/// `None` when fewer than four are known.
#[must_use]
pub fn usual_interval_days(intervals: &[Interval]) -> Option<i64> {
    let mut all: Vec<i64> = distinct(intervals).iter().filter_map(|interval| interval.days()).collect();
    let longer: Vec<i64> = all.iter().copied().filter(|days| *days > 1).collect();
    if 3 * longer.len() >= all.len() {
        all = longer;
    }
    all.sort_unstable();
    (all.len() >= MIN_INTERVALS).then(|| all[all.len() / 2])
}

/// The doubts about the trap intervals of one reach, for those that have any.
///
/// Give the intervals of all taxa and years together; repeats are counted once.
#[must_use]
pub fn doubts(intervals: &[Interval]) -> BTreeMap<Interval, Doubt> {
    let visits = distinct(intervals);
    let usual_days = usual_interval_days(&visits);
    let taken = usual_days.map_or_else(
        || "the usual interval is taken".to_owned(),
        |days| format!("the usual interval of {days} days is taken"),
    );
    let mut found = BTreeMap::new();
    filled_down(&visits, usual_days, &taken, &mut found);
    let pause_days = PAUSE_DAYS.max(2 * usual_days.unwrap_or(0));
    for visit in &visits {
        let doubt = match visit.days() {
            None => format!("the first day out is unknown; {taken}"),
            Some(days) if days > pause_days => format!("a pause of {days} days starts a new exposure; {taken}"),
            Some(_) => continue,
        };
        found.entry(*visit).or_insert(Doubt { text: doubt, exposure_known: false });
    }
    found
}

fn distinct(intervals: &[Interval]) -> Vec<Interval> {
    let mut visits = intervals.to_vec();
    visits.sort_unstable();
    visits.dedup();
    visits
}

fn filled_down(visits: &[Interval], usual_days: Option<i64>, taken: &str, found: &mut BTreeMap<Interval, Doubt>) {
    if usual_days.is_none_or(|days| days < WEEKLY_DAYS) {
        return;
    }
    let single: Vec<Interval> = visits.iter().copied().filter(|visit| visit.days() == Some(1)).collect();
    for run in single.chunk_by(|a, b| b.from == Some(a.to)).filter(|run| run.len() >= RUN) {
        let (first, last) = (run[0], run[run.len() - 1]);
        let run_text = format!(
            "{} one-day intervals in a row among longer ones, {} to {}: the dates look filled down",
            run.len(),
            first.to,
            last.to
        );
        for visit in run {
            found.insert(*visit, Doubt { text: format!("{run_text}; {taken}"), exposure_known: false });
        }
        for visit in visits {
            if Some(visit.to) == first.from {
                // Its own date is that of a true visit, so its days out stand.
                let text = format!("it stands at the head of {run_text}");
                found.entry(*visit).or_insert(Doubt { text, exposure_known: visit.from.is_some() });
            } else if visit.from == Some(last.to) {
                let text = format!("it counts from the end of {run_text}; {taken}");
                found.entry(*visit).or_insert(Doubt { text, exposure_known: false });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn visits(first: &str, steps: &[i64]) -> Vec<Interval> {
        let mut at: NaiveDate = first.parse().expect("date");
        steps
            .iter()
            .map(|step| {
                let from = at;
                at += chrono::TimeDelta::days(*step);
                Interval { from: Some(from), to: at }
            })
            .collect()
    }

    #[test]
    fn dates_filled_down_are_found_with_the_visits_on_either_side() {
        let all = visits("2019-04-08", &[7, 14, 7, 7, 7, 1, 1, 1, 1, 4, 7, 7, 7]);
        let found = doubts(&all);
        assert_eq!(found.keys().copied().collect::<Vec<_>>(), all[4..10]);
        assert!(found[&all[4]].exposure_known);
        assert!(all[5..10].iter().all(|visit| !found[visit].exposure_known));
        assert!(found[&all[6]].text.contains("4 one-day intervals"), "{}", found[&all[6]].text);
        assert!(found[&all[6]].text.contains("usual interval of 7 days"), "{}", found[&all[6]].text);
    }

    #[test]
    fn nightly_traps_and_a_single_short_interval_are_not_doubted() {
        assert!(doubts(&visits("2019-04-08", &[1; 40])).is_empty());
        assert!(doubts(&visits("2019-04-08", &[7, 7, 1, 6, 7, 2, 7, 7])).is_empty());
    }

    #[test]
    fn a_pause_starts_a_new_exposure_unless_it_is_the_habit() {
        let weekly = visits("2019-04-08", &[7, 7, 15, 7, 71, 7]);
        let found = doubts(&weekly);
        assert_eq!(found.keys().copied().collect::<Vec<_>>(), [weekly[4]]);
        assert_eq!(
            found[&weekly[4]].text,
            "a pause of 71 days starts a new exposure; the usual interval of 7 days is taken"
        );
        assert!(doubts(&visits("2019-04-08", &[30, 30, 31, 28, 30])).is_empty());
    }

    #[test]
    fn an_unknown_first_day_is_a_doubt_and_equal_dates_are_one_day() {
        let day: NaiveDate = "2019-04-08".parse().expect("date");
        let unknown = Interval::of_trap(None, day);
        assert!(!doubts(&[unknown])[&unknown].exposure_known);
        assert_eq!(Interval::of_trap(Some(day), day).days(), Some(1));
    }

    #[test]
    fn repeats_by_taxon_count_once() {
        let mut all = visits("2019-04-08", &[7, 7, 7]);
        all.extend(all.clone());
        assert_eq!(usual_interval_days(&all), None);
    }
}
