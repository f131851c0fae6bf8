//! Degree-days against `degree_days.csv`: closed forms that agree with scipy 1.17.1 quadrature of
//! the assumed curve to 5e-13, and one worked example published in a University of California
//! citrus guide.

use subimago::model::thermal::{
    CutOff, DayRange, Method, ThermalError, Thresholds, degree_days, mean_of_readings, sub_daily,
};

use crate::table::{Row, number, rows};

/// The three-hourly readings behind the sub-daily rows, as (time in days, degrees Celsius).
fn readings() -> Vec<(f64, f64)> {
    let values = [7.0, 5.5, 4.5, 8.0, 12.5, 14.0, 11.0, 8.5, 7.2];
    values.iter().enumerate().map(|(i, v)| (i as f64 / 8.0, *v)).collect()
}

fn thresholds(row: &Row) -> Thresholds {
    let cut_off = match row["cutoff"].as_str() {
        "none" => return Thresholds::lower(number(row, "lower")).expect("finite"),
        "horizontal" => CutOff::Horizontal,
        "intermediate" => CutOff::Intermediate,
        "vertical" => CutOff::Vertical,
        other => panic!("unknown cut-off {other}"),
    };
    Thresholds::between(number(row, "lower"), number(row, "upper"), cut_off).expect("in order")
}

fn method(row: &Row) -> Option<Method> {
    match row["method"].as_str() {
        "single_sine" => Some(Method::SingleSine),
        "single_triangle" => Some(Method::SingleTriangle),
        "double_sine" => Some(Method::DoubleSine),
        "double_triangle" => Some(Method::DoubleTriangle),
        "simple_average" => Some(Method::SimpleAverage),
        "average_clamped_minmax" => Some(Method::ClampedAverage),
        "piecewise_linear" | "left_rectangle" => None,
        other => panic!("unknown method {other}"),
    }
}

/// One row by our own functions.
fn ours(row: &Row) -> f64 {
    let Some(method) = method(row) else {
        return if row["method"] == "piecewise_linear" {
            sub_daily(&readings(), thresholds(row)).expect("in order")
        } else {
            let values: Vec<f64> = readings().iter().take(8).map(|r| r.1).collect();
            mean_of_readings(&values, number(row, "lower")).expect("eight readings")
        };
    };
    let mut day = DayRange::new(number(row, "tmin"), number(row, "tmax")).expect("in order");
    if matches!(method, Method::DoubleSine | Method::DoubleTriangle) {
        day = day.with_next_min(number(row, "tmin_next")).expect("finite");
    }
    let total = degree_days(method, day, thresholds(row)).expect("defined");
    assert!(!total.fell_back);
    total.degree_days
}

#[test]
fn every_row_of_the_table_is_met() {
    let table = rows("degree_days.csv");
    let (mut closed, mut sub_daily_rows, mut published) = (0, 0, 0);
    for row in &table {
        let (found, want) = (ours(row), number(row, "degree_days"));
        assert!((found - want).abs() < 1e-9, "{row:?}: {found}");
        if row["case"].starts_with("published") {
            published += 1;
        } else if method(row).is_some() {
            closed += 1;
        } else {
            sub_daily_rows += 1;
        }
        // Where the table has a quadrature of the curve, we agree with that as well: it was taken
        // independently of the closed form (midpoint sums to seven decimals for the readings).
        if !row["quadrature"].is_empty() {
            let tolerance = if method(row).is_some() { 1e-9 } else { 1e-6 };
            assert!((found - number(row, "quadrature")).abs() < tolerance, "{row:?}: {found}");
        }
    }
    assert_eq!((closed, sub_daily_rows, published), (300, 10, 1));
}

#[test]
fn flooring_each_instant_is_another_method() {
    // From 2 U - L = 20 C on the rate of an instant would be negative; this day goes to 36 C.
    let day = DayRange::new(4.0, 36.0).expect("in order");
    let whole_day = Thresholds::between(10.0, 15.0, CutOff::Intermediate).expect("in order");
    let total = degree_days(Method::SingleTriangle, day, whole_day).expect("defined").degree_days;
    // E(10) = 26^2/64, E(15) = 21^2/64: 10.5625 - 2 x 6.890625 is negative, the day counts nothing,
    // although the hours between 10 and 20 C would each count something.
    assert_eq!(total, 0.0);
}

#[test]
fn sums_scale_between_celsius_and_fahrenheit() {
    let f = |c: f64| 1.8 * c + 32.0;
    let total = |m: f64, x: f64, l: f64, u: f64| {
        let thresholds = Thresholds::between(l, u, CutOff::Vertical).expect("in order");
        degree_days(Method::SingleSine, DayRange::new(m, x).expect("in order"), thresholds)
            .expect("defined")
            .degree_days
    };
    let (celsius, fahrenheit) = (total(5.0, 33.0, 10.0, 25.0), total(f(5.0), f(33.0), f(10.0), f(25.0)));
    assert!((fahrenheit - 1.8 * celsius).abs() < 1e-9);
}

#[test]
fn swapped_extremes_are_refused() {
    assert!(matches!(DayRange::new(20.0, 4.0), Err(ThermalError::MinAboveMax { .. })));
}
