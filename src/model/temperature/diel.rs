//! Hours of a day from its mean: the month's usual shape.
//!
//! The shape of a month is the mean, over its fully measured days, of each local hour's departure
//! from the day's mean; it sums to zero. A day of which the extremes are known scales it to its own
//! range. How far the hours of single days lie from the shape is its error.

use std::collections::BTreeMap;

use chrono::{DateTime, Datelike, NaiveDate, Timelike, Utc};
use chrono_tz::Tz;

use super::series::DayTemp;
use crate::domain::water_hours::HOURS;

/// Fewest fully measured days that tell a month's shape.
pub const FEWEST_DIEL_DAYS: usize = 5;

/// The usual day of each month.
#[derive(Debug, Clone, PartialEq)]
pub struct DielShape {
    months: [Option<UsualDay>; 12],
}

/// A day's course about its mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UsualDay {
    /// Departure of each local hour's mean from the day's, degrees Celsius.
    pub departures_c: [f64; HOURS],
    /// Standard error of each hour about that, the day's mean known, degrees Celsius.
    pub errors_c: [f64; HOURS],
    /// Mean of the days' ranges, degrees Celsius: more than that of their mean course, since their warmest hours
    /// differ.
    pub range_c: f64,
}

impl UsualDay {
    /// The course of `days`, hourly means about their own mean; `None` of too few.
    fn of(days: &[[f64; HOURS]]) -> Option<Self> {
        let n = days.len() as f64;
        if days.len() < FEWEST_DIEL_DAYS {
            return None;
        }
        let mean = |value: &dyn Fn(&[f64; HOURS]) -> f64| days.iter().map(value).sum::<f64>() / n;
        let departures_c: [f64; HOURS] = std::array::from_fn(|hour| mean(&|day| day[hour]));
        let variance = |hour: usize| mean(&|day| (day[hour] - departures_c[hour]).powi(2)) * n / (n - 1.0);
        let range = |day: &[f64; HOURS]| {
            let (low, high) = ends(day);
            high - low
        };
        Some(Self { departures_c, errors_c: std::array::from_fn(|hour| variance(hour).sqrt()), range_c: mean(&range) })
    }
}

/// The least and the greatest of a day's departures.
fn ends(departures: &[f64; HOURS]) -> (f64, f64) {
    departures.iter().fold((0.0_f64, 0.0_f64), |(low, high), v| (low.min(*v), high.max(*v)))
}

impl DielShape {
    /// From readings at instants, in any order. A local day counts when each of its 24 hours has a
    /// reading; the mean of an hour is that of its readings.
    #[must_use]
    pub fn from_instants(readings: &[(DateTime<Utc>, f64)], time_zone: Tz) -> Self {
        let mut months: [Vec<[f64; HOURS]>; 12] = Default::default();
        for (date, hours) in hourly_means(readings, time_zone) {
            let mean = hours.iter().sum::<f64>() / HOURS as f64;
            months[date.month0() as usize].push(hours.map(|hour| hour - mean));
        }
        Self { months: std::array::from_fn(|month| UsualDay::of(&months[month])) }
    }

    /// True when no month was measured.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.months.iter().all(Option::is_none)
    }

    /// The usual day of the month of `date`; `None` where it was not measured.
    #[must_use]
    pub fn usual_day(&self, date: NaiveDate) -> Option<UsualDay> {
        self.months[date.month0() as usize]
    }

    /// Departures of the hours of `date` from the day's mean, degrees Celsius; `None` where the month
    /// was not measured.
    #[must_use]
    pub fn departures(&self, date: NaiveDate) -> Option<[f64; HOURS]> {
        self.usual_day(date).map(|day| day.departures_c)
    }

    /// Mean temperature of each local hour of `date`, degrees Celsius; `None` where the month was not
    /// measured. Where the extremes of `day` are known the shape is scaled to them, with nothing
    /// outside them.
    #[must_use]
    pub fn hours(&self, date: NaiveDate, day: DayTemp) -> Option<[f64; HOURS]> {
        Some(about(day, &self.departures(date)?))
    }
}

/// The hours of `day` by a usual course about its mean, degrees Celsius: see [`DielShape::hours`].
#[must_use]
pub fn about(day: DayTemp, departures_c: &[f64; HOURS]) -> [f64; HOURS] {
    if day.is_mean_only() {
        return departures_c.map(|departure| day.tmean_c + departure);
    }
    let (low, high) = ends(departures_c);
    let scale = if high > low { (day.tmax_c - day.tmin_c) / (high - low) } else { 0.0 };
    departures_c.map(|departure| (day.tmean_c + scale * departure).clamp(day.tmin_c, day.tmax_c))
}

/// Mean of each local hour of the fully measured days.
#[must_use]
pub fn hourly_means(readings: &[(DateTime<Utc>, f64)], time_zone: Tz) -> BTreeMap<NaiveDate, [f64; HOURS]> {
    by_hour(readings, time_zone, NaiveDate::MIN)
        .into_iter()
        .filter(|(_, hours)| hours.iter().all(|(_, n)| *n > 0))
        .map(|(date, hours)| (date, hours.map(|(sum, n)| sum / f64::from(n))))
        .collect()
}

/// Sum and number of the readings of each local hour, from the day `first` on.
fn by_hour(
    readings: &[(DateTime<Utc>, f64)],
    time_zone: Tz,
    first: NaiveDate,
) -> BTreeMap<NaiveDate, [(f64, u32); HOURS]> {
    let mut days: BTreeMap<NaiveDate, [(f64, u32); HOURS]> = BTreeMap::new();
    for (at, value_c) in readings {
        let local = at.with_timezone(&time_zone);
        if local.date_naive() >= first {
            let hour = &mut days.entry(local.date_naive()).or_insert([(0.0, 0); HOURS])[local.hour() as usize];
            *hour = (hour.0 + value_c, hour.1 + 1);
        }
    }
    days
}

/// Mean of each local hour of the days from `first` on, also where others of the day are missing.
#[must_use]
pub fn hours_so_far(
    readings: &[(DateTime<Utc>, f64)],
    time_zone: Tz,
    first: NaiveDate,
) -> BTreeMap<NaiveDate, [Option<f64>; HOURS]> {
    by_hour(readings, time_zone, first)
        .into_iter()
        .map(|(date, hours)| (date, hours.map(|(sum, n)| (n > 0).then(|| sum / f64::from(n)))))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::{TimeDelta, TimeZone};

    /// Half-hourly readings of `days` days from 1 May 2024, warmest at 15 h local in New York.
    fn readings(days: i64, amplitude_c: f64) -> Vec<(DateTime<Utc>, f64)> {
        let start = Utc.with_ymd_and_hms(2024, 5, 1, 4, 0, 0).single().expect("midnight in New York");
        let at = |n: i64| {
            let turn = std::f64::consts::TAU * (n as f64 / 48.0 - 15.25 / 24.0);
            (start + TimeDelta::minutes(30 * n), 12.0 + amplitude_c * turn.cos())
        };
        (0..48 * days).map(at).collect()
    }

    #[test]
    fn the_shape_is_that_of_the_local_day_and_keeps_the_mean() {
        let zone = chrono_tz::America::New_York;
        let shape = DielShape::from_instants(&readings(6, 3.0), zone);
        let date = NaiveDate::from_ymd_opt(2025, 5, 20).expect("a date");
        let hours = shape.hours(date, DayTemp::of_mean(10.0)).expect("May");
        let warmest = (0..24).max_by(|a, b| hours[*a].total_cmp(&hours[*b])).expect("hours");
        assert_eq!(warmest, 15);
        assert!((hours.iter().sum::<f64>() / 24.0 - 10.0).abs() < 1e-9);
        assert!((hours[15] - hours[3] - 6.0).abs() < 0.1, "{hours:?}");
        // Extremes of the day's own stretch it, and nothing leaves them.
        let wide = shape.hours(date, DayTemp { tmean_c: 10.0, tmin_c: 5.0, tmax_c: 14.0 }).expect("May");
        assert!(wide[15] <= 14.0 && wide[15] > 13.9 && (wide[3] - 5.5).abs() < 0.1, "{wide:?}");
        let june = NaiveDate::from_ymd_opt(2025, 6, 1).expect("a date");
        assert_eq!(shape.hours(june, DayTemp::of_mean(10.0)), None);
    }

    #[test]
    fn days_with_an_hour_missing_do_not_count() {
        let zone = chrono_tz::America::New_York;
        let all = readings(5, 3.0);
        let may = NaiveDate::from_ymd_opt(2025, 5, 20).expect("a date");
        assert!(DielShape::from_instants(&all, zone).departures(may).is_some());
        // Two half-hours of one day gone: four days are too few.
        let holed: Vec<_> = all.iter().enumerate().filter(|(i, _)| !(60..62).contains(i)).map(|(_, r)| *r).collect();
        assert_eq!(hourly_means(&holed, zone).len(), 4);
        assert!(DielShape::from_instants(&holed, zone).months.iter().all(Option::is_none));
    }
}
