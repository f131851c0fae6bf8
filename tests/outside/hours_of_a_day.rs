//! Hourly water from daily means on a real logger (ContDataQC authors, MIT; 15 minutes, ice-free seasons
//! of four years, readings that its keepers failed left out), against figures computed independently on the same file and given with it: 581 full
//! days; an hour's mean absolute error given the day's mean is 1.10 C when the day is taken as flat and 0.63 C with
//! the month's shape from the other years.

use std::collections::BTreeMap;
use std::path::Path;

use chrono::{DateTime, Datelike, NaiveDate, NaiveDateTime, Utc};
use chrono_tz::Tz;
use subimago::domain::water_hours::HOURS;
use subimago::model::temperature::diel::hourly_means;
use subimago::model::temperature::hourly::{COMMON_COURSE, OwnRange, borrowed, common, hours};
use subimago::model::temperature::{DayTemp, DielShape};

use crate::shared;

/// Readings of a logger that its keepers did not fail. The zone is not stated: the clock's time is taken as it stands.
fn logged(path: &Path) -> Vec<(DateTime<Utc>, f64)> {
    let rows = csv::Reader::from_path(path).unwrap().into_deserialize::<BTreeMap<String, String>>();
    rows.filter_map(|row| {
        let row = row.unwrap();
        if row["Flag.Water.Temp.C"] == "F" {
            return None;
        }
        let time = row.get("datetime").or_else(|| row.get("Date.Time")).unwrap();
        let at = NaiveDateTime::parse_from_str(time, "%Y-%m-%d %H:%M:%S").unwrap().and_utc();
        Some((at, row["Water.Temp.C"].parse().ok()?))
    })
    .collect()
}

#[test]
fn the_months_shape_from_other_years_gives_the_hours() {
    let Some(path) = shared::path("data/water/loggers-15min/09RD003_15min_2017_2020.csv") else { return };
    let readings = logged(&path);
    let days = hourly_means(&readings, Tz::UTC);
    let (mut flat, mut shaped, mut scaled, mut n) = (0.0, 0.0, 0.0, 0.0);
    for year in 2017..=2020 {
        let others: Vec<_> = readings.iter().filter(|(at, _)| at.year() != year).copied().collect();
        let shape = DielShape::from_instants(&others, Tz::UTC);
        for (date, hours) in days.iter().filter(|(date, _)| date.year() == year) {
            let mean = hours.iter().sum::<f64>() / 24.0;
            let (low, high) = hours.iter().fold((mean, mean), |(l, h), v| (l.min(*v), h.max(*v)));
            let Some(drawn) = shape.hours(*date, DayTemp::of_mean(mean)) else { continue };
            let ranged = shape.hours(*date, DayTemp { tmean_c: mean, tmin_c: low, tmax_c: high }).expect("as above");
            for (hour, came) in hours.iter().enumerate() {
                n += 1.0;
                flat += f64::abs(mean - came);
                shaped += f64::abs(drawn[hour] - came);
                scaled += f64::abs(ranged[hour] - came);
            }
        }
    }
    let [flat, shaped, scaled] = [flat, shaped, scaled].map(|sum| sum / n);
    println!(
        "{} full days, {n} hours: flat {flat:.3}, shape {shaped:.3}, with the day's range {scaled:.3}",
        days.len()
    );
    assert_eq!(days.len(), 581);
    assert!((flat - 1.10).abs() < 0.02 && (shaped - 0.63).abs() < 0.02, "{flat} {shaped}");
    // Set before looking: knowing the day's own range does not make it worse.
    assert!(scaled < shaped, "{scaled}");
}

const LOGGERS: [&str; 3] = ["09RD003_15min_2017_2020.csv", "ECO66G20_2014_2015.csv", "test2_30min_2013_2014.csv"];
const SUMMER: std::ops::RangeInclusive<u32> = 4..=10;

/// Hourly means of the full days of each logger.
fn all_loggers() -> Option<Vec<(&'static str, Vec<(DateTime<Utc>, f64)>)>> {
    LOGGERS
        .iter()
        .map(|name| Some((*name, logged(&shared::path(&format!("data/water/loggers-15min/{name}"))?))))
        .collect()
}

/// Mean over April to October of the usual days in shares of their range, by the hour of the clock.
fn course(readings: &[(DateTime<Utc>, f64)]) -> [f64; HOURS] {
    let shape = DielShape::from_instants(readings, Tz::UTC);
    let months: Vec<[f64; HOURS]> = SUMMER
        .filter_map(|month| {
            let day = shape.departures(NaiveDate::from_ymd_opt(2020, month, 1).unwrap())?;
            let ends = day.iter().fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(*v), high.max(*v)));
            Some(day.map(|departure| departure / (ends.1 - ends.0)))
        })
        .collect();
    std::array::from_fn(|hour| months.iter().map(|month| month[hour]).sum::<f64>() / months.len() as f64)
}

/// Where [`COMMON_COURSE`] comes from: an hour earlier than the clocks of the loggers, which are taken as summer time.
#[test]
fn the_common_course_is_that_of_the_three_loggers() {
    let Some(loggers) = all_loggers() else { return };
    let courses: Vec<[f64; HOURS]> = loggers.iter().map(|(_, readings)| course(readings)).collect();
    let mean: [f64; HOURS] =
        std::array::from_fn(|hour| courses.iter().map(|c| c[(hour + 1) % HOURS]).sum::<f64>() / 3.0);
    let ends = mean.iter().fold((f64::MAX, f64::MIN), |(low, high), v| (low.min(*v), high.max(*v)));
    for (hour, share) in COMMON_COURSE.iter().enumerate() {
        let made = mean[hour] / (ends.1 - ends.0);
        assert!((made - share).abs() < 0.015, "{hour}: {made:.3} and {share}");
    }
}

/// Each logger from the days of its mean alone, by its own usual days, by those of another logger, and by the common course: errors in degrees beside those of a flat day, and what was
/// made of the stated error.
#[test]
fn hours_err_as_far_as_is_stated_whatever_they_rest_on() {
    let Some(loggers) = all_loggers() else { return };
    println!("| logger, hours from | mean abs error C | flat day C | error made over stated |");
    for (at, (name, readings)) in loggers.iter().enumerate() {
        let days = hourly_means(readings, Tz::UTC);
        let (_, other) = &loggers[(at + 1) % 3];
        let elsewhere = DielShape::from_instants(other, Tz::UTC);
        let own = DielShape::from_instants(readings, Tz::UTC);
        for basis in ["own days", "another logger", "common course, own range", "common course"] {
            let (mut error, mut flat, mut square, mut n) = (0.0, 0.0, 0.0, 0.0);
            for (date, came) in days.iter().filter(|(date, _)| SUMMER.contains(&date.month())) {
                // The day itself is among its month's: one of thirty and more.
                let known = own.usual_day(*date);
                let range = known.map_or(OwnRange::Unknown, |day| OwnRange::Measured(day.range_c));
                let usual = match basis {
                    "own days" => known,
                    "another logger" => elsewhere.usual_day(*date).map(|day| borrowed(&day, OwnRange::Unknown)),
                    "common course, own range" => Some(common(*date, 40.0, 1.0, range)),
                    _ => Some(common(*date, 40.0, 1.0, OwnRange::Unknown)),
                };
                let Some(usual) = usual else { continue };
                let mean = came.iter().sum::<f64>() / HOURS as f64;
                let told = hours(DayTemp::of_mean(mean), 0.0, &usual, &[None; HOURS]);
                for (told, came) in told.iter().zip(came) {
                    error += f64::abs(told.water_c - came);
                    flat += f64::abs(mean - came);
                    square += ((told.water_c - came) / told.error_c).powi(2);
                    n += 1.0;
                }
            }
            if n == 0.0 {
                continue;
            }
            let (error, flat, made) = (error / n, flat / n, f64::sqrt(square / n));
            println!("| {name}, {basis} | {error:.2} | {flat:.2} | {made:.2} |");
            // Set before looking: better than a flat day, and errors neither half nor twice what is stated.
            assert!(error < flat, "{name} {basis}: {error} {flat}");
            assert!((0.5..2.0).contains(&made), "{name} {basis}: {made}");
        }
    }
}
