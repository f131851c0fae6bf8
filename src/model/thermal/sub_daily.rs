//! Degree-days from readings within a day, joined by straight lines.

use super::{Part, ThermalError, Thresholds, finite};

/// Degree-days of the time from the first reading to the last, joined by straight lines. `readings`
/// are (time in days, temperature in degrees Celsius) in order of time; for one day the last one is
/// the first of the next day. Two segments, up and down, are the double triangle.
///
/// # Errors
/// [`ThermalError::TooFewReadings`], [`ThermalError::NotInOrder`], [`ThermalError::NotFinite`].
pub fn sub_daily(readings: &[(f64, f64)], thresholds: Thresholds) -> Result<f64, ThermalError> {
    check(readings)?;
    Ok(thresholds.total(|c| {
        let mut sum = Part { degree_days: 0.0, share_above: 0.0 };
        for pair in readings.windows(2) {
            let part = segment(pair[0].1, pair[1].1, pair[1].0 - pair[0].0, c);
            sum.degree_days += part.degree_days;
            sum.share_above += part.share_above;
        }
        sum
    }))
}

/// Mean excess of evenly spaced readings over the lower threshold, in degree-days per day: what a
/// logger's own running sum usually is. A cross-check only; it errs where the curve bends.
///
/// # Errors
/// [`ThermalError::TooFewReadings`] without any reading; [`ThermalError::NotFinite`].
pub fn mean_of_readings(values_c: &[f64], lower_c: f64) -> Result<f64, ThermalError> {
    if values_c.is_empty() {
        return Err(ThermalError::TooFewReadings { found: 0 });
    }
    for &value in values_c {
        finite("a reading", value)?;
    }
    Ok(values_c.iter().map(|v| (v - lower_c).max(0.0)).sum::<f64>() / values_c.len() as f64)
}

/// E and f of one straight piece from `from_c` to `to_c` that lasts `days`, both in days.
fn segment(from_c: f64, to_c: f64, days: f64, c: f64) -> Part {
    let (low, high) = (from_c.min(to_c), from_c.max(to_c));
    if c >= high {
        Part { degree_days: 0.0, share_above: 0.0 }
    } else if c <= low {
        Part { degree_days: days * (f64::midpoint(from_c, to_c) - c), share_above: days }
    } else {
        let (rest, range) = (high - c, high - low);
        Part { degree_days: days * rest * rest / (2.0 * range), share_above: days * rest / range }
    }
}

fn check(readings: &[(f64, f64)]) -> Result<(), ThermalError> {
    if readings.len() < 2 {
        return Err(ThermalError::TooFewReadings { found: readings.len() });
    }
    for (index, &(time, value)) in readings.iter().enumerate() {
        finite("a reading's time", time)?;
        finite("a reading", value)?;
        if index > 0 && time <= readings[index - 1].0 {
            return Err(ThermalError::NotInOrder { index });
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::thermal::{CutOff, DayRange, Method, degree_days};

    #[test]
    fn two_segments_are_the_double_triangle() {
        let readings = [(0.0, 5.0), (0.5, 33.0), (1.0, 8.0)];
        let day = DayRange::new(5.0, 33.0).expect("in order").with_next_min(8.0).expect("finite");
        for cut_off in [CutOff::Horizontal, CutOff::Intermediate, CutOff::Vertical] {
            let thresholds = Thresholds::between(10.0, 25.0, cut_off).expect("in order");
            let by_day = degree_days(Method::DoubleTriangle, day, thresholds).expect("defined").degree_days;
            let by_reading = sub_daily(&readings, thresholds).expect("in order");
            assert!((by_day - by_reading).abs() < 1e-12, "{cut_off:?}: {by_day} {by_reading}");
        }
    }

    #[test]
    fn readings_out_of_order_are_refused() {
        let base = Thresholds::lower(5.0).expect("finite");
        assert_eq!(sub_daily(&[(0.0, 5.0)], base), Err(ThermalError::TooFewReadings { found: 1 }));
        assert_eq!(sub_daily(&[(0.0, 5.0), (0.0, 6.0)], base), Err(ThermalError::NotInOrder { index: 1 }));
        assert!(sub_daily(&[(0.0, 5.0), (0.5, f64::INFINITY)], base).is_err());
    }
}
