//! The hours of a day of which the mean is known or forecast.
//!
//! By the usual day of its month ([`UsualDay`]): the reach's own; else that of another gauge, stretched to the reach's
//! own usual range where that is known; else the course that streams have in common, stretched likewise. What the
//! hours are off by is made up of the day's mean, of single days that differ from the usual one, and, where
//! the range is not the reach's own, of that.

use chrono::{Datelike, NaiveDate};

use super::WATER_FLOOR_C;
use super::climatology::DielRange;
use super::diel::{UsualDay, about};
use super::series::DayTemp;
use crate::domain::water_hours::{HOURS, WaterHour};

/// The common course of a day about its mean, by local mean solar hour, as a share of its range: mean over April to October
/// of three streams logged every 15 or 30 minutes (the example loggers of the R package ContDataQC, MIT licence; their
/// clocks taken as summer time). `tests/outside` makes it anew.
pub const COMMON_COURSE: [f64; HOURS] = [
    -0.04, -0.11, -0.19, -0.27, -0.34, -0.41, -0.47, -0.50, -0.48, -0.40, -0.25, -0.07, 0.13, 0.29, 0.42, 0.49, 0.50,
    0.46, 0.40, 0.33, 0.24, 0.15, 0.07, 0.04,
];
/// Range of the common course where nothing is known of it, degrees Celsius, with the sun overhead; it goes by the sine of
/// the sun's height at noon. Mean over months of five streams in West Brook and the Andrews Forest (US, public data), on the
/// log scale; wide open rivers have two or three times as much in summer.
const COMMON_RANGE_C: f64 = 2.0;
/// Standard deviation of the log of a stream's range about the common one: what those five streams show.
const RANGE_LOG_SD: f64 = 0.45;
/// The same of one stream about another one, which differs from the common one by as much.
const BORROWED_LOG_SD: f64 = 0.64;
/// Least error of an hour that was not measured, degrees Celsius: loggers err by as much.
const LEAST_ERROR_C: f64 = 0.1;
/// Range of the mean course as a share of the mean of the days' ranges: 0.85 to 0.95 from May to September on the loggers
/// behind [`COMMON_COURSE`].
const COURSE_OF_RANGE: f64 = 0.9;
/// Error of an hour of the common course as a share of its range: what the same loggers show of single days.
const COMMON_ERROR: f64 = 0.3;
/// Sun at noon below which the common range grows no less, as the sine of its height: under cloud and in winter light
/// still comes from all over the sky.
const LEAST_SUN: f64 = 0.2;

/// How far a stream's range is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OwnRange {
    /// Usual range of the month, degrees Celsius, measured at the reach.
    Measured(f64),
    /// Estimated from other gauges, degrees Celsius.
    Estimated(f64),
    /// Not at all.
    Unknown,
}

impl OwnRange {
    /// Of a climatology's `range`, `measured` at the reach itself or not.
    #[must_use]
    pub fn of(range: Option<DielRange>, measured: bool) -> Self {
        match range.map(|range| range.below_c + range.above_c) {
            Some(range_c) if measured => Self::Measured(range_c),
            Some(range_c) => Self::Estimated(range_c),
            None => Self::Unknown,
        }
    }
}

/// The usual day of another gauge as one of this reach.
#[must_use]
pub fn borrowed(there: &UsualDay, range: OwnRange) -> UsualDay {
    let (scale, log_sd) = match range {
        OwnRange::Measured(own_c) if there.range_c > 0.0 => (own_c / there.range_c, 0.0),
        OwnRange::Estimated(own_c) if there.range_c > 0.0 => (own_c / there.range_c, BORROWED_LOG_SD),
        OwnRange::Measured(_) | OwnRange::Estimated(_) | OwnRange::Unknown => (1.0, BORROWED_LOG_SD),
    };
    stretched(there, scale, log_sd)
}

/// The common course of `date` at `latitude`, degrees north, where the clock shows `clock_ahead_h` hours more than mean solar
/// time.
#[must_use]
pub fn common(date: NaiveDate, latitude: f64, clock_ahead_h: f64, range: OwnRange) -> UsualDay {
    let (range_c, log_sd) = match range {
        OwnRange::Measured(range_c) => (range_c, 0.0),
        OwnRange::Estimated(range_c) => (range_c, BORROWED_LOG_SD),
        OwnRange::Unknown => (COMMON_RANGE_C * noon_sun(date, latitude) / COURSE_OF_RANGE, RANGE_LOG_SD),
    };
    let course_c = COURSE_OF_RANGE * range_c;
    let unit = UsualDay {
        departures_c: std::array::from_fn(|hour| common_share(hour as f64 - clock_ahead_h)),
        errors_c: [COMMON_ERROR; HOURS],
        range_c: COURSE_OF_RANGE.recip(),
    };
    stretched(&unit, course_c, log_sd)
}

/// `day` with `scale` times its range, of which the log has the standard error `log_sd`.
fn stretched(day: &UsualDay, scale: f64, log_sd: f64) -> UsualDay {
    let departures_c = day.departures_c.map(|departure| scale * departure);
    UsualDay {
        errors_c: std::array::from_fn(|hour| (scale * day.errors_c[hour]).hypot(log_sd * departures_c[hour])),
        departures_c,
        range_c: scale * day.range_c,
    }
}

/// The common course at a mean solar hour, between the hours on a line.
fn common_share(solar_hour: f64) -> f64 {
    let hour = solar_hour.rem_euclid(HOURS as f64);
    let (before, part) = (hour.floor(), hour - hour.floor());
    let at = |hour: f64| COMMON_COURSE[hour as usize % HOURS];
    at(before) + part * (at(before + 1.0) - at(before))
}

/// Sine of the sun's height at noon, never under [`LEAST_SUN`]. The sun's declination is that of a circle with the
/// tilt of 23.44 degrees, right to a degree.
fn noon_sun(date: NaiveDate, latitude: f64) -> f64 {
    let turn = std::f64::consts::TAU * (f64::from(date.ordinal0()) + 10.0) / 365.25;
    let declination = -23.44_f64.to_radians() * turn.cos();
    (latitude.to_radians() - declination).cos().max(LEAST_SUN)
}

/// Water of the hours of a day whose mean (and extremes, where they are its own) is `day`, with the standard error
/// `mean_error_c`, on a `usual` day. Hours in `measured` keep what was measured, and the others follow them as far as
/// the day's mean is less sure than the course about it.
#[must_use]
pub fn hours(day: DayTemp, mean_error_c: f64, usual: &UsualDay, measured: &[Option<f64>; HOURS]) -> [WaterHour; HOURS] {
    let expected = about(day, &usual.departures_c);
    let known: Vec<(f64, f64)> =
        (0..HOURS).filter_map(|hour| Some((measured[hour]? - expected[hour], usual.errors_c[hour].powi(2)))).collect();
    let n = known.len().max(1) as f64;
    // Departures of a day's hours go together: all that were measured count as one.
    let (departure, course) = known.iter().fold((0.0, 0.0), |sum, one| (sum.0 + one.0 / n, sum.1 + one.1 / n));
    let mean_variance = mean_error_c * mean_error_c;
    let share = if known.is_empty() || mean_variance <= 0.0 { 0.0 } else { mean_variance / (mean_variance + course) };
    let left = (mean_variance * (1.0 - share)).sqrt();
    std::array::from_fn(|hour| match measured[hour] {
        Some(water_c) => WaterHour { water_c, error_c: 0.0 },
        None => WaterHour {
            water_c: (expected[hour] + share * departure).max(WATER_FLOOR_C),
            error_c: left.hypot(usual.errors_c[hour]).max(LEAST_ERROR_C),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const NONE: [Option<f64>; HOURS] = [None; HOURS];

    fn july() -> NaiveDate {
        NaiveDate::from_ymd_opt(2024, 7, 10).expect("a date")
    }

    fn warmest(day: &UsualDay) -> usize {
        (0..HOURS).max_by(|a, b| day.departures_c[*a].total_cmp(&day.departures_c[*b])).expect("hours")
    }

    #[test]
    fn the_common_course_goes_by_the_sun_and_keeps_the_mean() {
        let plain = common(july(), 45.0, 0.0, OwnRange::Unknown);
        assert!((plain.departures_c.iter().sum::<f64>()).abs() < 0.05 * plain.range_c);
        assert_eq!(warmest(&plain), 16);
        // Where the clock is two hours ahead of the sun it shows 18 at the same moment.
        assert_eq!(warmest(&common(july(), 45.0, 2.0, OwnRange::Unknown)), 18);
        // Half the year later the northern day is flatter, the southern one steeper.
        let january = NaiveDate::from_ymd_opt(2024, 1, 10).expect("a date");
        assert!(common(january, 45.0, 0.0, OwnRange::Unknown).range_c < 0.5 * plain.range_c);
        assert!((common(january, -45.0, 0.0, OwnRange::Unknown).range_c - plain.range_c).abs() < 0.1);
        // A range that was measured counts as it is, and is surer.
        let own = common(july(), 45.0, 0.0, OwnRange::Measured(6.0));
        assert!((own.range_c - 6.0).abs() < 1e-9);
        let guessed = common(july(), 45.0, 0.0, OwnRange::Estimated(6.0));
        assert!(guessed.errors_c[16] > own.errors_c[16] + 0.2 && guessed.departures_c == own.departures_c);
    }

    #[test]
    fn a_borrowed_day_has_the_reachs_own_range_or_a_wider_error() {
        let there = common(july(), 45.0, 0.0, OwnRange::Measured(4.0));
        let own = borrowed(&there, OwnRange::Measured(2.0));
        assert!((own.departures_c[16] - there.departures_c[16] / 2.0).abs() < 1e-12);
        assert!((own.errors_c[16] - there.errors_c[16] / 2.0).abs() < 1e-12);
        let unknown = borrowed(&there, OwnRange::Unknown);
        assert!(unknown.departures_c == there.departures_c && unknown.errors_c[16] > there.errors_c[16]);
    }

    #[test]
    fn hours_follow_what_was_measured_of_the_day_as_far_as_its_mean_is_unsure() {
        let usual = common(july(), 45.0, 0.0, OwnRange::Measured(4.0));
        let plain = hours(DayTemp::of_mean(14.0), 1.0, &usual, &NONE);
        assert!((plain[16].water_c - 14.0 - usual.departures_c[16]).abs() < 1e-12);
        assert!((plain[16].error_c - 1.0_f64.hypot(usual.errors_c[16])).abs() < 1e-12);
        let mut morning = NONE;
        (0..10).for_each(|hour| morning[hour] = Some(plain[hour].water_c + 1.0));
        let warmer = hours(DayTemp::of_mean(14.0), 1.0, &usual, &morning);
        assert!((warmer[3].water_c - plain[3].water_c - 1.0).abs() < 1e-12 && warmer[3].error_c == 0.0);
        let moved = warmer[16].water_c - plain[16].water_c;
        assert!(moved > 0.3 && moved < 1.0 && warmer[16].error_c < plain[16].error_c, "{moved}");
        // A mean that is sure is not moved.
        assert!((hours(DayTemp::of_mean(14.0), 0.0, &usual, &morning)[16].water_c - plain[16].water_c).abs() < 1e-12);
        // Near the freezing point nothing falls below it.
        let winter = hours(DayTemp::of_mean(0.0), 1.0, &usual, &NONE);
        assert!(winter.iter().all(|hour| hour.water_c >= WATER_FLOOR_C));
    }
}
