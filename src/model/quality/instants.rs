//! Checks of readings within a day.

use chrono::{DateTime, TimeDelta, Utc};

use super::{Check, out_of_range};

/// Largest change from one reading to the next within [`STEP_MINUTES`], °C: a shallow sunlit stream
/// warms by less than 1 °C in half an hour; a logger put in or taken out jumps by more.
pub const STEP_C: f64 = 2.0;
/// Readings further apart than this are not compared, minutes.
pub const STEP_MINUTES: i64 = 60;
/// Time for which the same value may stand, hours, and the temperature below which ice may hold it.
pub const STUCK_HOURS: i64 = 24;
const STUCK_ABOVE_C: f64 = 1.5;

/// One doubted reading.
#[derive(Debug, Clone, PartialEq)]
pub struct InstantFlag {
    /// Position among the readings given.
    pub index: usize,
    /// [`Check::Range`], [`Check::Step`] or [`Check::Flat`].
    pub check: Check,
    /// The reason in words, with numbers.
    pub reason: String,
}

/// The checks of one gauge as its readings come, in order of time, keeping only what is doubted.
#[derive(Debug, Clone, Default)]
pub struct InstantChecks {
    /// The reading before, °C.
    last: Option<(DateTime<Utc>, f64)>,
    /// The value before that, and the step from it to the last.
    before: Option<f64>,
    step_c: Option<f64>,
    /// Since when the last value has stood.
    since: Option<DateTime<Utc>>,
    /// Readings far from the one before, and by how much.
    steps: Vec<(DateTime<Utc>, f64)>,
    /// From when to when a value stood too long.
    stuck: Vec<(DateTime<Utc>, DateTime<Utc>, f64)>,
}

impl InstantChecks {
    /// Takes the next reading.
    pub fn push(&mut self, at: DateTime<Utc>, value_c: f64) {
        let near = self.last.filter(|(before, _)| at - *before <= TimeDelta::minutes(STEP_MINUTES));
        let step_c = near.map(|(_, from)| value_c - from).filter(|by| by.abs() > STEP_C);
        if let Some(by) = step_c {
            // The way back from a lone wrong value is right again.
            let back = self.step_c.is_some_and(|before| before * by < 0.0)
                && self.before.is_some_and(|before| (value_c - before).abs() <= STEP_C);
            if !back {
                self.steps.push((at, by));
            }
        }
        if self.last.is_none_or(|(_, last)| last != value_c) {
            self.end_run();
            self.since = Some(at);
        }
        self.step_c = step_c;
        self.before = self.last.map(|(_, value)| value);
        self.last = Some((at, value_c));
    }

    fn end_run(&mut self) {
        if let (Some(from), Some((to, value_c))) = (self.since, self.last)
            && to - from >= TimeDelta::hours(STUCK_HOURS)
            && value_c > STUCK_ABOVE_C
        {
            self.stuck.push((from, to, value_c));
        }
    }

    /// What is doubted, now that there are no more.
    #[must_use]
    pub fn end(mut self) -> InstantDoubts {
        self.end_run();
        InstantDoubts { steps: self.steps, stuck: self.stuck }
    }
}

/// What is doubted of the readings of one gauge.
#[derive(Debug, Clone, Default)]
pub struct InstantDoubts {
    steps: Vec<(DateTime<Utc>, f64)>,
    stuck: Vec<(DateTime<Utc>, DateTime<Utc>, f64)>,
}

impl InstantDoubts {
    /// Which check doubts the reading at that instant, and why in words with numbers.
    #[must_use]
    pub fn of(&self, at: DateTime<Utc>) -> Option<(Check, String)> {
        if let Ok(found) = self.steps.binary_search_by_key(&at, |(at, _)| *at) {
            return Some((Check::Step, format!("{:+.1} °C from the reading before it", self.steps[found].1)));
        }
        let (from, to, value_c) = *self.stuck.get(self.stuck.partition_point(|(_, to, _)| *to < at))?;
        let words = || format!("{value_c} °C without change for {} hours", (to - from).num_hours());
        (from <= at).then(|| (Check::Flat, words()))
    }
}

/// Checks the readings of one gauge, °C, which must be in order of time. Gives one flag for a
/// doubted reading, that of the first check that doubts it, in order of time.
#[must_use]
pub fn check_instants(readings: &[(DateTime<Utc>, f64)]) -> Vec<InstantFlag> {
    let mut checks = InstantChecks::default();
    for (at, value_c) in readings {
        checks.push(*at, *value_c);
    }
    let doubts = checks.end();
    let flag = |(index, (at, value_c)): (usize, &(DateTime<Utc>, f64))| {
        let out = out_of_range(*value_c).map(|reason| (Check::Range, reason));
        out.or_else(|| doubts.of(*at)).map(|(check, reason)| InstantFlag { index, check, reason })
    };
    readings.iter().enumerate().filter_map(flag).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::TimeZone;

    /// Readings every quarter of an hour.
    fn readings(values: impl IntoIterator<Item = f64>) -> Vec<(DateTime<Utc>, f64)> {
        let start = Utc.with_ymd_and_hms(2024, 5, 1, 0, 0, 0).single().expect("an instant");
        (0..).zip(values).map(|(n, value)| (start + TimeDelta::minutes(15 * n), value)).collect()
    }

    fn found(readings: &[(DateTime<Utc>, f64)]) -> Vec<(usize, Check)> {
        check_instants(readings).into_iter().map(|flag| (flag.index, flag.check)).collect()
    }

    #[test]
    fn a_lone_wrong_value_is_doubted_and_the_way_back_is_not() {
        let lone = readings([12.0, 12.1, 17.5, 12.2, 12.3]);
        assert_eq!(found(&lone), [(2, Check::Step)]);
        assert_eq!(check_instants(&lone)[0].reason, "+5.4 °C from the reading before it");
        assert_eq!(found(&readings([12.0, 40.0, 12.2, 12.3])), [(1, Check::Range)]);
        // Put into the water: it cools in two steps and stays.
        assert_eq!(found(&readings([22.0, 19.0, 15.2, 15.1])), [(1, Check::Step), (2, Check::Step)]);
    }

    #[test]
    fn readings_far_apart_are_not_compared() {
        let mut gap = readings([12.0, 16.0]);
        gap[1].0 += TimeDelta::minutes(60);
        assert_eq!(found(&gap), Vec::<(usize, Check)>::new());
    }

    #[test]
    fn a_value_that_stands_for_a_day_is_doubted_unless_it_is_ice() {
        let stuck = |value: f64| found(&readings(std::iter::repeat_n(value, 97).chain([value + 0.1]))).len();
        assert_eq!((stuck(8.25), stuck(0.01)), (97, 0));
        assert_eq!(found(&readings(std::iter::repeat_n(8.25, 96))), Vec::<(usize, Check)>::new());
    }
}
