//! A logger that has come out of the water shows the air's daily range.

use std::collections::HashMap;

use chrono::{Days, NaiveDate};

use super::dense::median;
use super::screen::{ByDay, Flags, put, slot};
use super::{Check, Day};

/// Days of the year on either side over which ranges are gathered.
const WINDOW_DAYS: usize = 45;
/// Fewest ranges that tell the usual one.
const FEWEST_RANGES: usize = 30;
/// A range is doubted from this many times the usual one, and from this width, °C.
const TIMES_USUAL: f64 = 3.5;
const WIDE_C: f64 = 5.0;
/// Usual ranges are never taken as less, °C: under snow they are nearly nothing.
const LEAST_USUAL_C: f64 = 0.5;
/// In weather that widens the other gauges as well, the range over theirs must be this many times usual.
const TIMES_OTHERS: f64 = 2.0;
/// A wide day counts when at least so many of the days up to two before and after it are wide too.
const BESIDE_DAYS: u64 = 2;
const FEWEST_BESIDE: usize = 2;

/// Flags runs of days whose range is far from the usual one of the season, and from that of the other
/// gauges of the same day where they have one. Days of which only the mean is known are not judged.
pub(super) fn in_air(series: &[Vec<Day>], flags: &mut Flags) {
    let mut by_date: HashMap<NaiveDate, Vec<(usize, f64)>> = HashMap::new();
    for (gauge, days) in series.iter().enumerate() {
        for (date, range) in ranges(days) {
            by_date.entry(date).or_default().push((gauge, range));
        }
    }
    for (gauge, days) in series.iter().enumerate() {
        let others = |date: NaiveDate| {
            let mut others: Vec<f64> = by_date.get(&date)?.iter().filter(|o| o.0 != gauge).map(|o| o.1).collect();
            median(&mut others).map(|middle| middle.max(LEAST_USUAL_C))
        };
        let own = Usual::new(ranges(days));
        let shares = Usual::new(ranges(days).filter_map(|(date, range)| Some((date, range / others(date)?))));
        let wide: HashMap<NaiveDate, (f64, f64)> = ranges(days)
            .filter_map(|(date, range)| {
                let usual = own.at(date)?.max(LEAST_USUAL_C);
                let alone = match (others(date), shares.at(date)) {
                    (Some(others), Some(usual)) => range / others > TIMES_OTHERS * usual,
                    _ => true,
                };
                (alone && range >= WIDE_C && range > TIMES_USUAL * usual).then_some((date, (range, usual)))
            })
            .collect();
        let beside = |date: NaiveDate| {
            let near = (1..=BESIDE_DAYS).flat_map(|d| [date - Days::new(d), date + Days::new(d)]);
            near.filter(|near| wide.contains_key(near)).count()
        };
        let run = |date: NaiveDate| wide.contains_key(&date) && beside(date) >= FEWEST_BESIDE;
        for day in days {
            // A cloudy day between wide ones is in the air as well.
            let between = run(day.date - Days::new(1)) && run(day.date + Days::new(1));
            if !run(day.date) && !between {
                continue;
            }
            put(flags, gauge, day.date, Check::InAir, || match wide.get(&day.date) {
                Some((range, usual)) => format!(
                    "a daily range of {range:.1} °C, usually about {usual:.1} at this time of year: the logger may hang in the air"
                ),
                None => "between days with the air's daily range: the logger may hang in the air".to_owned(),
            });
        }
    }
}

fn ranges(days: &[Day]) -> impl Iterator<Item = (NaiveDate, f64)> + '_ {
    days.iter().filter(|day| day.tmax_c > day.tmin_c).map(|day| (day.date, day.tmax_c - day.tmin_c))
}

/// Medians by day of the year.
struct Usual(Vec<Option<f64>>);

impl Usual {
    fn new(values: impl Iterator<Item = (NaiveDate, f64)>) -> Self {
        let gathered = ByDay::new(values);
        let middle = |slot| {
            let mut values: Vec<f64> = gathered.window(slot, WINDOW_DAYS).map(|(_, value)| value).collect();
            if values.len() >= FEWEST_RANGES { median(&mut values) } else { None }
        };
        Self((0..365).map(middle).collect())
    }

    fn at(&self, date: NaiveDate) -> Option<f64> {
        self.0[slot(date)]
    }
}

#[cfg(test)]
mod tests {
    use super::super::check;
    use super::*;
    use chrono::Datelike;

    fn date(ordinal: u32) -> NaiveDate {
        NaiveDate::from_yo_opt(2021, ordinal).expect("a date")
    }

    /// A year about 10 °C with the given daily range.
    fn year(range: impl Fn(u32) -> f64) -> Vec<Day> {
        (1..=365)
            .map(|ordinal| {
                let mean = 10.0 + 0.3 * f64::from(ordinal % 7);
                let half = range(ordinal) / 2.0;
                Day { date: date(ordinal), tmean_c: mean, tmin_c: mean - half, tmax_c: mean + half }
            })
            .collect()
    }

    fn in_air(flags: &[super::super::Flag]) -> Vec<u32> {
        flags.iter().filter(|f| f.check == Check::InAir).map(|f| f.date.ordinal()).collect()
    }

    #[test]
    fn a_week_with_the_airs_range_is_doubted_with_its_cloudy_day() {
        let days = year(|d| if (150..157).contains(&d) { if d == 153 { 3.0 } else { 13.0 } } else { 2.0 });
        let flags = check(&[days]);
        assert_eq!(in_air(&flags), (150..157).collect::<Vec<_>>());
        assert!(flags[0].reason.contains("13.0") && flags[0].reason.contains("air"), "{}", flags[0].reason);
    }

    #[test]
    fn two_wide_days_or_open_water_are_no_ground_for_doubt() {
        assert_eq!(in_air(&check(&[year(|d| if (150..152).contains(&d) { 13.0 } else { 2.0 })])), Vec::<u32>::new());
        assert_eq!(in_air(&check(&[year(|d| if d > 150 && d < 240 { 9.0 } else { 3.0 })])), Vec::<u32>::new());
    }

    #[test]
    fn weather_that_widens_all_gauges_is_no_fault_of_one() {
        let clear = |d: u32| if (100..110).contains(&d) { 9.0 } else { 2.0 };
        let (one, two) = (year(clear), year(|d| 0.8 * clear(d)));
        assert_eq!(in_air(&check(&[one.clone(), two])), Vec::<u32>::new());
        let flags = check(&[one, year(|_| 2.0)]);
        assert_eq!(in_air(&flags), (100..110).collect::<Vec<_>>());
        assert!(flags.iter().all(|f| f.gauge == 0));
    }
}
