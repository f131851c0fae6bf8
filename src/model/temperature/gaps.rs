//! A daily series with its short gaps filled and marked.
//!
//! A gap of at most [`LONGEST_SHORT_GAP`] days is filled linearly on the anomaly from the
//! climatology. Its error is that of a straight line through an autoregression of order one with
//! the climatology's correlation: small next to a measured day, growing toward the middle, where it
//! reaches the climatological standard deviation in the longest gaps and is never taken as more.
//! Longer gaps are for [`super::neighbours`]; what is left stays absent: unknown, never small.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};

use super::WATER_FLOOR_C;
use super::climatology::Climatology;
use super::series::{DayTemp, Series};

/// Longest gap that is filled from its own two ends, days.
pub const LONGEST_SHORT_GAP: i64 = 14;

/// How a day's temperature came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum DayBasis {
    /// Measured on the reach itself.
    Measured,
    /// On a line between the measured days on either side of a short gap.
    Gap,
    /// By regression on one other gauge.
    Gauge,
    /// From the other gauges together.
    Gauges,
    /// Between the gauge above and the gauge below.
    Between,
    /// From the air.
    Air,
}

/// One known day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CompletedDay {
    /// Mean and extremes.
    pub temp: DayTemp,
    /// Standard error of the mean, degrees Celsius; 0 for a measured day. Errors of neighbouring
    /// estimated days are correlated.
    pub sd_c: f64,
    /// How it came about.
    pub basis: DayBasis,
}

impl CompletedDay {
    /// A measured day.
    #[must_use]
    pub fn measured(temp: DayTemp) -> Self {
        Self { temp, sd_c: 0.0, basis: DayBasis::Measured }
    }

    /// True when the day was not measured.
    #[must_use]
    pub fn is_estimated(self) -> bool {
        self.sd_c > 0.0
    }
}

/// A reach's measured days and those that could be estimated. Other days are unknown.
#[derive(Debug, Clone, PartialEq)]
pub struct Completed {
    pub(super) days: BTreeMap<NaiveDate, CompletedDay>,
    pub(super) through: NaiveDate,
    /// Standard error of the level common to all estimated days, degrees Celsius: a reach without
    /// a series of its own may run warmer or colder than its neighbours all year long.
    pub(super) level_sd_c: f64,
}

impl Completed {
    /// The measured days of `series` up to and with `through`, short gaps filled. A day of which
    /// only the mean was known gets the month's usual range, where one is known.
    #[must_use]
    pub fn from_measured(series: &Series, climatology: &Climatology, through: NaiveDate) -> Self {
        let measured = series.range(..=through).map(|(date, day)| {
            let temp = if day.is_mean_only() { climatology.with_range(*date, day.tmean_c) } else { *day };
            (*date, CompletedDay::measured(temp))
        });
        let mut completed = Self { days: measured.collect(), through, level_sd_c: 0.0 };
        completed.fill_short_gaps(climatology);
        completed
    }

    /// The known days by date.
    pub fn days(&self) -> &BTreeMap<NaiveDate, CompletedDay> {
        &self.days
    }

    /// The last day whose data were used; days after it are always absent.
    pub fn through(&self) -> NaiveDate {
        self.through
    }

    /// Standard error of the level common to all estimated days, degrees Celsius.
    pub fn level_sd_c(&self) -> f64 {
        self.level_sd_c
    }

    fn fill_short_gaps(&mut self, climatology: &Climatology) {
        let known: Vec<(NaiveDate, f64)> = self.days.iter().map(|(date, day)| (*date, day.temp.tmean_c)).collect();
        for pair in known.windows(2) {
            let ((from, left), (to, right)) = (pair[0], pair[1]);
            let span = (to - from).num_days();
            if !(2..=LONGEST_SHORT_GAP + 1).contains(&span) {
                continue;
            }
            let (left, right) = (left - climatology.mean_c(from), right - climatology.mean_c(to));
            for k in 1..span {
                let date = from + Days::new(k as u64);
                let share = k as f64 / span as f64;
                let mean = climatology.mean_c(date) + (1.0 - share) * left + share * right;
                let sd = climatology.sd_c(date) * line_error(climatology.phi(), k, span);
                self.insert_estimate(date, climatology.with_range(date, mean), sd, DayBasis::Gap);
            }
        }
    }

    /// Adds an estimated day; a day already known is left alone.
    pub(super) fn insert_estimate(&mut self, date: NaiveDate, temp: DayTemp, sd_c: f64, basis: DayBasis) {
        // An estimate without any error would pass for a measurement.
        let day = CompletedDay { temp: temp.floored(WATER_FLOOR_C), sd_c: sd_c.max(1e-6), basis };
        self.days.entry(date).or_insert(day);
    }
}

/// Error of a straight line between the two ends of a gap, in units of the standard deviation of
/// the anomaly: day `k` of `span`, daily correlation `phi`; at most 1.
fn line_error(phi: f64, k: i64, span: i64) -> f64 {
    let power = |h: i64| phi.powi(h as i32);
    let right = k as f64 / span as f64;
    let left = 1.0 - right;
    let variance = 1.0 + left * left + right * right + 2.0 * left * right * power(span)
        - 2.0 * left * power(k)
        - 2.0 * right * power(span - k);
    variance.clamp(0.0, 1.0).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::Datelike;

    fn date(year: i32, ordinal: u32) -> NaiveDate {
        NaiveDate::from_yo_opt(year, ordinal).expect("a date")
    }

    /// Four years at 10 C plus a sawtooth, with ranges, less the given days of 2003.
    fn sample(missing: std::ops::Range<u32>) -> Series {
        date(2000, 1)
            .iter_days()
            .take(1461)
            .filter(|d| !(d.year() == 2003 && missing.contains(&d.ordinal())))
            .map(|d| {
                let mean = 10.0 + 6.0 * (f64::from(d.ordinal()) / 58.1).sin() + f64::from(d.ordinal() % 40) / 20.0;
                (d, DayTemp { tmean_c: mean, tmin_c: mean - 1.0, tmax_c: mean + 2.0 })
            })
            .collect()
    }

    #[test]
    fn a_short_gap_is_filled_linearly_on_the_anomaly() {
        let series = sample(100..104);
        let climatology = Climatology::fit(&series, date(2004, 1)).expect("four years");
        let completed = Completed::from_measured(&series, &climatology, date(2004, 1));
        let anomaly = |ordinal| series[&date(2003, ordinal)].tmean_c - climatology.mean_c(date(2003, ordinal));
        for (k, ordinal) in (100..104).enumerate() {
            let share = (k as f64 + 1.0) / 5.0;
            let day = completed.days()[&date(2003, ordinal)];
            let want = climatology.mean_c(date(2003, ordinal)) + (1.0 - share) * anomaly(99) + share * anomaly(104);
            assert!((day.temp.tmean_c - want).abs() < 1e-12 && day.is_estimated());
            assert!((day.temp.tmax_c - day.temp.tmean_c - 2.0).abs() < 1e-9);
        }
        assert!(!completed.days()[&date(2003, 99)].is_estimated());
    }

    #[test]
    fn fourteen_days_are_short_and_fifteen_are_not() {
        let known = |last| {
            let series = sample(100..last);
            let climatology = Climatology::fit(&series, date(2004, 1)).expect("four years");
            Completed::from_measured(&series, &climatology, date(2004, 1)).days().contains_key(&date(2003, 105))
        };
        assert!(known(114) && !known(115));
    }

    #[test]
    fn the_error_of_a_gap_grows_to_the_climatological_sd() {
        // One missing day with correlation 0.9: 1 + 2 (1/4) + 2 (1/4) 0.81 - 2 (2/2) 0.9 = 0.105.
        assert!((line_error(0.9, 1, 2) - 0.105_f64.sqrt()).abs() < 1e-12);
        let errors: Vec<f64> = (1..15).map(|k| line_error(0.8, k, 15)).collect();
        assert!(errors[..7].windows(2).all(|p| p[1] >= p[0]) && errors[7..].windows(2).all(|p| p[1] <= p[0]));
        assert_eq!(errors[6], 1.0);
        assert!(line_error(0.9, 7, 15) > 0.8 && line_error(0.9, 1, 15) < 0.5);
    }

    #[test]
    fn a_day_of_which_only_the_mean_is_known_gets_the_usual_range() {
        let mut series = sample(0..0);
        series.insert(date(2003, 50), DayTemp::of_mean(5.0));
        let climatology = Climatology::fit(&series, date(2004, 1)).expect("four years");
        let completed = Completed::from_measured(&series, &climatology, date(2004, 1));
        let day = completed.days()[&date(2003, 50)];
        assert!((day.temp.tmin_c - 4.0).abs() < 1e-9 && (day.temp.tmax_c - 7.0).abs() < 1e-9);
        assert!(!day.is_estimated());
    }
}
