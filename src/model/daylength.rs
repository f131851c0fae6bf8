//! Day length, sunrise and sunset.
//!
//! The date-exact method is the low-precision solar series of Meeus (Astronomical Algorithms) as
//! the solar worksheets of the US weather agency use it, with declination and equation of time
//! recomputed at the found instant. Against an ephemeris it errs by at most 0.1 min to 60 degrees
//! of latitude and 0.25 min at 65. [`cbm_hours`] and [`brock_hours`] are cross-checks from the
//! ecological literature, not for use in a model: today they err by up to 8 and 19 min at 60
//! degrees.
//!
//! The edge of day is the depression of the sun's centre below the horizon, in degrees; keep it
//! with the fit. Hills and canyon walls shorten what an insect sees: day length is a covariate,
//! not a truth about light.

use std::f64::consts::PI;

use chrono::{DateTime, Datelike, NaiveDate, Timelike, Utc};

/// Upper edge of the sun on the horizon with usual refraction: the meaning of almanacs.
pub const SUNRISE_DEPRESSION_DEG: f64 = 0.8333;
/// Civil twilight.
pub const CIVIL_DEPRESSION_DEG: f64 = 6.0;

const MINUTES_PER_DAY: f64 = 1440.0;
/// Julian day number of 0 h UTC on the day before 1 January of year 1.
const JULIAN_DAY_CE: f64 = 1_721_424.5;
const J2000: f64 = 2_451_545.0;
const PASSES: usize = 3;

/// Declination of the sun and equation of time at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sun {
    /// Declination, radians.
    pub declination_rad: f64,
    /// Apparent minus mean solar time, minutes.
    pub equation_of_time_min: f64,
}

/// The light of one day at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Daylight {
    /// Minutes after 0 h UTC of the date asked for; far from Greenwich they may be negative or
    /// above 1440.
    RiseAndSet {
        /// Sunrise.
        rise_utc_min: f64,
        /// Sunset.
        set_utc_min: f64,
    },
    /// The sun stays above the edge of day.
    AlwaysLight,
    /// The sun stays below it.
    AlwaysDark,
}

impl Daylight {
    /// Hours of light, 0 to 24.
    pub fn hours(self) -> f64 {
        match self {
            Self::RiseAndSet { rise_utc_min, set_utc_min } => ((set_utc_min - rise_utc_min) / 60.0).clamp(0.0, 24.0),
            Self::AlwaysLight => 24.0,
            Self::AlwaysDark => 0.0,
        }
    }
}

/// The sun at a Julian day (UTC).
#[must_use]
pub fn sun_at(julian_day: f64) -> Sun {
    let t = (julian_day - J2000) / 36_525.0;
    let mean_longitude = (280.46646 + t * (36_000.769_83 + 0.000_303_2 * t)).rem_euclid(360.0).to_radians();
    let anomaly = (357.52911 + t * (35_999.050_29 - 0.000_153_7 * t)).to_radians();
    let eccentricity = 0.016_708_634 - t * (0.000_042_037 + 0.000_000_126_7 * t);
    let centre_deg = anomaly.sin() * (1.914_602 - t * (0.004_817 + 0.000_014 * t))
        + (2.0 * anomaly).sin() * (0.019_993 - 0.000_101 * t)
        + 0.000_289 * (3.0 * anomaly).sin();
    let node = (125.04 - 1_934.136 * t).to_radians();
    let longitude = mean_longitude + (centre_deg - 0.00569 - 0.00478 * node.sin()).to_radians();
    let mean_obliquity_deg = 23.0 + (26.0 + (21.448 - t * (46.815 + t * (0.00059 - 0.001_813 * t))) / 60.0) / 60.0;
    let obliquity = (mean_obliquity_deg + 0.00256 * node.cos()).to_radians();
    let y = (obliquity / 2.0).tan().powi(2);
    let equation = y * (2.0 * mean_longitude).sin() - 2.0 * eccentricity * anomaly.sin()
        + 4.0 * eccentricity * y * anomaly.sin() * (2.0 * mean_longitude).cos()
        - 0.5 * y * y * (4.0 * mean_longitude).sin()
        - 1.25 * eccentricity * eccentricity * (2.0 * anomaly).sin();
    Sun {
        declination_rad: (obliquity.sin() * longitude.sin()).asin(),
        equation_of_time_min: 4.0 * equation.to_degrees(),
    }
}

/// Sunrise and sunset of the local day `date` at a place in degrees north and east, for an edge of
/// day `depression_deg` below the horizon.
#[must_use]
pub fn daylight(date: NaiveDate, latitude_deg: f64, longitude_deg: f64, depression_deg: f64) -> Daylight {
    let (rise, rise_cos) = edge(date, latitude_deg, longitude_deg, depression_deg, -1.0);
    let (set, set_cos) = edge(date, latitude_deg, longitude_deg, depression_deg, 1.0);
    if rise_cos >= 1.0 && set_cos >= 1.0 {
        Daylight::AlwaysDark
    } else if rise_cos <= -1.0 && set_cos <= -1.0 {
        Daylight::AlwaysLight
    } else {
        Daylight::RiseAndSet { rise_utc_min: rise, set_utc_min: set }
    }
}

/// Hours between sunrise and sunset in the almanac's meaning ([`SUNRISE_DEPRESSION_DEG`]).
#[must_use]
pub fn day_length_hours(date: NaiveDate, latitude_deg: f64, longitude_deg: f64) -> f64 {
    daylight(date, latitude_deg, longitude_deg, SUNRISE_DEPRESSION_DEG).hours()
}

/// Time of the sun's highest stand, minutes after 0 h UTC of `date`.
#[must_use]
pub fn solar_noon_utc_min(date: NaiveDate, longitude_deg: f64) -> f64 {
    let mut minutes = 720.0 - 4.0 * longitude_deg;
    for _ in 0..PASSES {
        let sun = sun_at(julian_day(date) + minutes / MINUTES_PER_DAY);
        minutes = 720.0 - 4.0 * longitude_deg - sun.equation_of_time_min;
    }
    minutes
}

/// Local mean solar time of an instant, hours from 0 to 24: UTC moved by the longitude alone. The
/// model's hours are in this time, free of zones and summer time.
#[must_use]
pub fn mean_solar_hour(at: DateTime<Utc>, longitude_deg: f64) -> f64 {
    let utc_hours = f64::from(at.num_seconds_from_midnight()) / 3600.0;
    (utc_hours + longitude_deg / 15.0).rem_euclid(24.0)
}

/// Minutes after 0 h UTC of `date` at which the local mean solar time of that local day is `hour`.
#[must_use]
pub fn utc_min_of_mean_solar_hour(hour: f64, longitude_deg: f64) -> f64 {
    hour * 60.0 - 4.0 * longitude_deg
}

/// Local apparent solar time (sundial) of an instant, hours from 0 to 24.
#[must_use]
pub fn apparent_solar_hour(at: DateTime<Utc>, longitude_deg: f64) -> f64 {
    let day = julian_day(at.date_naive()) + f64::from(at.num_seconds_from_midnight()) / 86_400.0;
    (mean_solar_hour(at, longitude_deg) + sun_at(day).equation_of_time_min / 60.0).rem_euclid(24.0)
}

/// Day length in hours after the CBM model (Forsythe et al. 1995, Ecological Modelling 80:87-95),
/// by day of year 1..=366. Cross-check only.
#[must_use]
pub fn cbm_hours(day_of_year: u32, latitude_deg: f64, depression_deg: f64) -> f64 {
    let theta = 0.216_310_8 + 2.0 * (0.967_139_6 * (0.00860 * (f64::from(day_of_year) - 186.0)).tan()).atan();
    let declination = (0.39795 * theta.cos()).asin();
    length_hours(latitude_deg, declination, depression_deg)
}

/// Day length in hours with Brock's declination, by day of year 1..=366. Cross-check only.
#[must_use]
pub fn brock_hours(day_of_year: u32, latitude_deg: f64, depression_deg: f64) -> f64 {
    let declination = 23.45_f64.to_radians() * (2.0 * PI * (283.0 + f64::from(day_of_year)) / 365.0).sin();
    length_hours(latitude_deg, declination, depression_deg)
}

fn length_hours(latitude_deg: f64, declination_rad: f64, depression_deg: f64) -> f64 {
    24.0 / PI * hour_angle_cos(latitude_deg, declination_rad, depression_deg).acos()
}

/// Cosine of the hour angle at which the sun stands at the edge of day, clamped: 1 when it never
/// rises, -1 when it never sets. At the poles the quotient is huge and its sign decides.
fn hour_angle_cos(latitude_deg: f64, declination_rad: f64, depression_deg: f64) -> f64 {
    let latitude = latitude_deg.to_radians();
    let height = -depression_deg.to_radians().sin() - latitude.sin() * declination_rad.sin();
    (height / (latitude.cos() * declination_rad.cos())).clamp(-1.0, 1.0)
}

/// Minutes after 0 h UTC of sunrise (`side` -1) or sunset (+1), and the clamped cosine behind it.
fn edge(date: NaiveDate, latitude_deg: f64, longitude_deg: f64, depression_deg: f64, side: f64) -> (f64, f64) {
    let (start, noon) = (julian_day(date), 720.0 - 4.0 * longitude_deg);
    let (mut minutes, mut cosine) = (noon, 0.0);
    for _ in 0..PASSES {
        let sun = sun_at(start + minutes / MINUTES_PER_DAY);
        cosine = hour_angle_cos(latitude_deg, sun.declination_rad, depression_deg);
        minutes = noon - sun.equation_of_time_min + side * 4.0 * cosine.acos().to_degrees();
    }
    (minutes, cosine)
}

/// Julian day of 0 h UTC on `date`.
fn julian_day(date: NaiveDate) -> f64 {
    f64::from(date.num_days_from_ce()) + JULIAN_DAY_CE
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::TimeZone;

    fn day(year: i32, month: u32, day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(year, month, day).expect("a date")
    }

    #[test]
    fn polar_days_and_nights_reach_their_ends() {
        let (june, december) = (day(2024, 6, 20), day(2024, 12, 21));
        for latitude in [70.0, 90.0] {
            assert_eq!(daylight(june, latitude, 0.0, SUNRISE_DEPRESSION_DEG), Daylight::AlwaysLight);
            assert_eq!(daylight(december, latitude, 0.0, SUNRISE_DEPRESSION_DEG), Daylight::AlwaysDark);
            assert_eq!(day_length_hours(june, -latitude, 0.0), 0.0);
            assert_eq!(day_length_hours(december, -latitude, 0.0), 24.0);
        }
        assert_eq!((cbm_hours(172, 70.0, 0.8333), cbm_hours(355, 70.0, 0.8333)), (24.0, 0.0));
    }

    #[test]
    fn day_length_is_smooth_into_the_polar_day() {
        // No jump above what the steepest day at this latitude can bring (the sun grazes for days).
        let mut last = day_length_hours(day(2024, 1, 1), 68.0, 20.0);
        for date in day(2024, 1, 2).iter_days().take(364) {
            let now = day_length_hours(date, 68.0, 20.0);
            assert!((now - last).abs() < 1.6, "{date}: {last} to {now}");
            last = now;
        }
    }

    #[test]
    fn a_known_misprint_of_cbm_is_not_ours() {
        // 45 N, day 172, centre of the sun: 15.4271 is right, 15.2201 comes of a misplaced bracket.
        assert!((cbm_hours(172, 45.0, 0.0) - 15.4271).abs() < 5e-5);
    }

    #[test]
    fn mean_solar_time_moves_with_the_longitude_only() {
        let at = Utc.with_ymd_and_hms(2024, 5, 1, 18, 30, 0).single().expect("an instant");
        assert!((mean_solar_hour(at, -75.0) - 13.5).abs() < 1e-12);
        assert!((mean_solar_hour(at, 150.0) - 4.5).abs() < 1e-12);
        assert!((utc_min_of_mean_solar_hour(13.5, -75.0) - 18.5 * 60.0).abs() < 1e-9);
        let noon = solar_noon_utc_min(day(2024, 5, 1), -75.0);
        let noon_at = Utc.with_ymd_and_hms(2024, 5, 1, 0, 0, 0).single().expect("an instant")
            + chrono::Duration::milliseconds((noon * 60_000.0) as i64);
        assert!((apparent_solar_hour(noon_at, -75.0) - 12.0).abs() < 1e-3);
    }

    #[test]
    fn equation_of_time_has_its_known_turning_points() {
        // From memory: about -14.2 min near 11 February and +16.4 min near 3 November.
        let at = |date: NaiveDate| sun_at(julian_day(date) + 0.5).equation_of_time_min;
        assert!((at(day(2024, 2, 11)) + 14.2).abs() < 0.1);
        assert!((at(day(2024, 11, 3)) - 16.45).abs() < 0.1);
    }
}
