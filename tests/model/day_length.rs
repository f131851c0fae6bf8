//! Day length against an ephemeris (skyfield 1.55 with DE421), printed almanac tables, and the two
//! formulas of the ecological literature.

use chrono::NaiveDate;
use subimago::model::daylength::{
    CIVIL_DEPRESSION_DEG, Daylight, SUNRISE_DEPRESSION_DEG, brock_hours, cbm_hours, day_length_hours, daylight,
};

use crate::table::{Row, number, rows};

fn date(row: &Row) -> NaiveDate {
    row["date"].parse().expect("an ISO date")
}

#[test]
fn the_date_exact_method_meets_the_ephemeris() {
    let table = rows("day_length.csv");
    let mut worst: f64 = 0.0;
    for row in &table {
        let latitude = number(row, "lat_deg");
        let minutes = 60.0 * (day_length_hours(date(row), latitude, 0.0) - number(row, "skyfield_de421_h"));
        let allowed = if latitude <= 60.0 { 0.3 } else { 0.5 };
        assert!(minutes.abs() < allowed, "{latitude} {}: {minutes} min", row["date"]);
        worst = worst.max(minutes.abs());
    }
    assert_eq!(table.len(), 165);
    // The method's own accuracy is better than what is promised.
    assert!(worst < 0.25, "{worst}");
}

#[test]
fn the_cross_check_formulas_are_those_of_the_literature() {
    for row in rows("day_length.csv") {
        let (latitude, day) = (number(&row, "lat_deg"), number(&row, "doy") as u32);
        for (column, found) in [
            ("cbm_p0.8333_h", cbm_hours(day, latitude, SUNRISE_DEPRESSION_DEG)),
            ("cbm_p0.26667_h", cbm_hours(day, latitude, 0.26667)),
            ("cbm_p0_h", cbm_hours(day, latitude, 0.0)),
            ("cbm_p6_civil_h", cbm_hours(day, latitude, CIVIL_DEPRESSION_DEG)),
            ("brock_p0_h", brock_hours(day, latitude, 0.0)),
            ("brock_p0.8333_h", brock_hours(day, latitude, SUNRISE_DEPRESSION_DEG)),
        ] {
            assert!((found - number(&row, column)).abs() < 1e-6, "{column} {latitude} {day}: {found}");
        }
    }
}

#[test]
fn printed_tables_are_met_within_their_rounding() {
    let table = rows("day_length_almanac_read.csv");
    for row in &table {
        let college = row["table"].starts_with("college");
        // The college's page names no year; its lengths fit 2024. The other is for 2002.
        let year = if college { 2024 } else { 2002 };
        let date: NaiveDate = format!("{year}-{}", row["month_day"]).parse().expect("an ISO date");
        let light = daylight(date, number(row, "lat"), number(row, "lon"), SUNRISE_DEPRESSION_DEG);
        let Daylight::RiseAndSet { rise_utc_min, set_utc_min } = light else { panic!("{row:?}: {light:?}") };
        // The college prints zone time five hours after UTC, the other table local mean time at 0 E.
        let zone_min = if college { 300.0 } else { 0.0 };
        let (rise, set) = (rise_utc_min - zone_min, set_utc_min - zone_min);
        for (column, found) in [("read_sunrise_min", rise), ("read_sunset_min", set), ("read_length_min", set - rise)] {
            if !row[column].is_empty() {
                // Both times are rounded to a minute and the place of the college was supplied by hand.
                assert!((found - number(row, column)).abs() < 0.6, "{column} {row:?}: {found}");
            }
        }
        for (column, found) in [("noaa_sunrise_min", rise), ("noaa_sunset_min", set), ("noaa_length_min", set - rise)] {
            assert!((found - number(row, column)).abs() < 0.011, "{column} {row:?}: {found}");
        }
    }
    assert_eq!(table.len(), 20);
}

#[test]
fn day_length_hardly_depends_on_the_longitude() {
    let date = NaiveDate::from_ymd_opt(2024, 3, 20).expect("a date");
    let here = day_length_hours(date, 52.0, 0.0);
    for longitude in [-179.0, -75.0, 90.0, 179.0] {
        // The equinox gains about four minutes a day at 52 N: half of that at the antipodes.
        assert!((day_length_hours(date, 52.0, longitude) - here).abs() < 2.2 / 60.0, "{longitude}");
    }
}
