//! Daily water temperatures of one gauge or reach.

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeDelta, TimeZone, Utc};
use chrono_tz::Tz;

/// Longest time between two readings that still counts as covered, hours: three-hourly readings
/// with some slack (common practice, no source).
pub const LONGEST_STEP_HOURS: i64 = 4;

/// Water temperature of one local civil day, degrees Celsius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayTemp {
    /// Mean.
    pub tmean_c: f64,
    /// Minimum, at most the mean.
    pub tmin_c: f64,
    /// Maximum, at least the mean.
    pub tmax_c: f64,
}

impl DayTemp {
    /// A day of which only the mean is known.
    #[must_use]
    pub fn of_mean(tmean_c: f64) -> Self {
        Self { tmean_c, tmin_c: tmean_c, tmax_c: tmean_c }
    }

    /// True when both extremes equal the mean, which stands for a day of which only the mean is known.
    #[must_use]
    pub fn is_mean_only(self) -> bool {
        self.tmin_c == self.tmean_c && self.tmax_c == self.tmean_c
    }

    /// The day moved by `by_c`.
    #[must_use]
    pub fn shifted(self, by_c: f64) -> Self {
        Self { tmean_c: self.tmean_c + by_c, tmin_c: self.tmin_c + by_c, tmax_c: self.tmax_c + by_c }
    }

    /// The day with nothing below `floor_c`.
    #[must_use]
    pub fn floored(self, floor_c: f64) -> Self {
        Self { tmean_c: self.tmean_c.max(floor_c), tmin_c: self.tmin_c.max(floor_c), tmax_c: self.tmax_c.max(floor_c) }
    }
}

/// Daily water temperatures by local civil date; missing days are absent.
pub type Series = BTreeMap<NaiveDate, DayTemp>;

/// Daily values from readings at instants, which must be in order of time.
///
/// Readings are joined by straight lines. A local day counts when every moment of it lies between
/// two readings at most [`LONGEST_STEP_HOURS`] apart; its mean is the mean of the line, its
/// extremes are those of the line. Readings at the same instant: the last one counts.
#[must_use]
pub fn days_from_instants(readings: &[(DateTime<Utc>, f64)], time_zone: Tz) -> Series {
    days_within(readings, time_zone, TimeDelta::hours(LONGEST_STEP_HOURS))
}

/// As [`days_from_instants`], with readings up to `longest` apart.
pub(super) fn days_within(readings: &[(DateTime<Utc>, f64)], time_zone: Tz, longest: TimeDelta) -> Series {
    let mut days = Series::new();
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else { return days };
    let mut date = first.0.with_timezone(&time_zone).date_naive();
    let last_date = last.0.with_timezone(&time_zone).date_naive();
    while date <= last_date {
        let next = date + Days::new(1);
        if let (Some(from), Some(to)) = (day_start(date, time_zone), day_start(next, time_zone))
            && let Some(day) = one_day(readings, (from, to), longest)
        {
            days.insert(date, day);
        }
        date = next;
    }
    days
}

/// The first instant of a local day. Where clocks skip midnight the day starts after the skip.
fn day_start(date: NaiveDate, time_zone: Tz) -> Option<DateTime<Utc>> {
    let midnight = date.and_time(NaiveTime::MIN);
    (0..=4)
        .find_map(|quarter| time_zone.from_local_datetime(&(midnight + TimeDelta::minutes(30 * quarter))).earliest())
        .map(|start| start.with_timezone(&Utc))
}

fn one_day(
    readings: &[(DateTime<Utc>, f64)],
    (from, to): (DateTime<Utc>, DateTime<Utc>),
    longest: TimeDelta,
) -> Option<DayTemp> {
    let before = readings.partition_point(|(at, _)| *at <= from).checked_sub(1)?;
    let seconds = |span: TimeDelta| span.num_milliseconds() as f64 / 1000.0;
    let (mut integral, mut low, mut high) = (0.0, f64::INFINITY, f64::NEG_INFINITY);
    for pair in readings.get(before..)?.windows(2) {
        let ((t1, v1), (t2, v2)) = (pair[0], pair[1]);
        if t1 >= to {
            break;
        }
        if t2 - t1 > longest {
            return None;
        }
        if t2 == t1 {
            continue;
        }
        let at = |t: DateTime<Utc>| v1 + (v2 - v1) * seconds(t - t1) / seconds(t2 - t1);
        let (start, end) = (t1.max(from), t2.min(to));
        let (a, b) = (at(start), at(end));
        integral += f64::midpoint(a, b) * seconds(end - start);
        low = low.min(a).min(b);
        high = high.max(a).max(b);
    }
    let covered = readings.last().is_some_and(|(at, _)| *at >= to);
    let mean = integral / seconds(to - from);
    (covered && mean.is_finite()).then(|| DayTemp { tmean_c: mean.clamp(low, high), tmin_c: low, tmax_c: high })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(day: u32, hour: u32) -> DateTime<Utc> {
        Utc.with_ymd_and_hms(2024, 5, day, hour, 0, 0).single().expect("an instant")
    }

    #[test]
    fn a_day_needs_readings_all_through_it() {
        // Three-hourly readings, 10 C at midnight rising to 16 at noon and back, for two UTC days.
        let value = |hour: u32| 16.0 - f64::from(hour.abs_diff(12)) * 0.5;
        let mut readings: Vec<_> =
            (1..=2).flat_map(|d| (0..24).step_by(3).map(move |h| (at(d, h), value(h)))).collect();
        readings.push((at(3, 0), 10.0));
        let days = days_from_instants(&readings, Tz::UTC);
        let date = NaiveDate::from_ymd_opt(2024, 5, 1).expect("a date");
        assert_eq!(days.len(), 2);
        assert_eq!(days[&date], DayTemp { tmean_c: 13.0, tmin_c: 10.0, tmax_c: 16.0 });
        // Without the readings of 9 and 12 h on the first day there is a hole of 9 hours.
        readings.retain(|(t, _)| *t != at(1, 9) && *t != at(1, 12));
        assert_eq!(days_from_instants(&readings, Tz::UTC).keys().count(), 1);
        // In New York the local day of 1 May runs from 04 UTC to 04 UTC.
        let local = days_from_instants(&readings, chrono_tz::America::New_York);
        assert!(local.is_empty(), "neither local day is covered to its end: {local:?}");
    }

    #[test]
    fn the_local_day_and_its_change_of_clock_are_honoured() {
        // Hourly readings that equal the hours since 29 March 2025, 00 UTC; Berlin skips 02 h on the 30th.
        let start = Utc.with_ymd_and_hms(2025, 3, 29, 0, 0, 0).single().expect("an instant");
        let readings: Vec<_> = (0..72).map(|h| (start + TimeDelta::hours(h), h as f64)).collect();
        let days = days_from_instants(&readings, chrono_tz::Europe::Berlin);
        let day = days[&NaiveDate::from_ymd_opt(2025, 3, 30).expect("a date")];
        // From 23 UTC on the 29th to 22 UTC on the 30th: 23 hours.
        assert_eq!((day.tmin_c, day.tmax_c), (23.0, 46.0));
        assert!((day.tmean_c - 34.5).abs() < 1e-9);
    }
}
