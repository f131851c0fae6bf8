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

/// Checks the readings of one gauge, °C, which must be in order of time. Gives one flag for a
/// doubted reading, that of the first check that doubts it, in order of time.
#[must_use]
pub fn check_instants(readings: &[(DateTime<Utc>, f64)]) -> Vec<InstantFlag> {
    let mut reasons: Vec<Option<(Check, String)>> =
        readings.iter().map(|(_, value)| out_of_range(*value).map(|reason| (Check::Range, reason))).collect();
    let change = |index: usize| {
        let [(before, from), (at, to)] = [*readings.get(index.checked_sub(1)?)?, *readings.get(index)?];
        (at - before <= TimeDelta::minutes(STEP_MINUTES)).then_some(to - from)
    };
    let steps = |index: usize| change(index).filter(|change| change.abs() > STEP_C);
    for index in 1..readings.len() {
        let Some(by) = steps(index) else { continue };
        // The way back from a lone wrong value is right again.
        let back = index >= 2
            && steps(index - 1).is_some_and(|before| before * by < 0.0)
            && (readings[index].1 - readings[index - 2].1).abs() <= STEP_C;
        if !back {
            reasons[index].get_or_insert_with(|| (Check::Step, format!("{by:+.1} °C from the reading before it")));
        }
    }
    let mut start = 0;
    for run in readings.chunk_by(|a, b| a.1 == b.1) {
        let lasts = run[run.len() - 1].0 - run[0].0;
        if lasts >= TimeDelta::hours(STUCK_HOURS) && run[0].1 > STUCK_ABOVE_C {
            for reason in &mut reasons[start..start + run.len()] {
                let words = || format!("{} °C without change for {} hours", run[0].1, lasts.num_hours());
                reason.get_or_insert_with(|| (Check::Flat, words()));
            }
        }
        start += run.len();
    }
    let flag = |(index, reason): (usize, Option<(Check, String)>)| {
        reason.map(|(check, reason)| InstantFlag { index, check, reason })
    };
    reasons.into_iter().enumerate().filter_map(flag).collect()
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
