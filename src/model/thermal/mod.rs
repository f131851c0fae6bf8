//! Degree-days of a day from its extremes, from a daily mean, or from sub-daily readings.
//!
//! For any threshold `c` a day's assumed curve T(t), t in days from 0 to 1, gives
//!
//! - E(c), the integral of max(T(t) - c, 0), in degree-days, and
//! - f(c), the share of the day with T(t) > c, with dE/dc = -f(c).
//!
//! Every upper cut-off is a combination of the two, whatever the shape of the curve:
//!
//! | cut-off above U | meaning of the rate | daily total |
//! |---|---|---|
//! | none | keeps rising | E(L) |
//! | horizontal | stays at U - L | E(L) - E(U) |
//! | intermediate | falls by 1 per degree above U | max(0, E(L) - 2 E(U)) |
//! | vertical | is zero above U | E(L) - E(U) - (U - L) f(U) |
//!
//! The floor at zero of the intermediate cut-off applies to the **whole day's** total, not to each
//! instant and not to each half-day: flooring each instant gives another number once the day is
//! warmer than 2 U - L.
//!
//! Constants fitted with one method do not carry over to another, nor from air to water: keep the
//! method with the constants.

mod curves;
mod sub_daily;

use thiserror::Error;

pub use curves::{Part, degree_days_sine, sine, triangle};
pub use sub_daily::{mean_of_readings, sub_daily};

/// Why degree-days cannot be computed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ThermalError {
    /// The extremes are swapped. They are refused, not mended: a swap hides other faults.
    #[error("the daily minimum ({min_c} C) is above the maximum ({max_c} C)")]
    MinAboveMax {
        /// Minimum given, degrees Celsius.
        min_c: f64,
        /// Maximum given, degrees Celsius.
        max_c: f64,
    },
    /// The upper threshold does not lie above the lower one.
    #[error("the upper threshold ({upper_c} C) must be above the lower one ({lower_c} C)")]
    UpperNotAboveLower {
        /// Lower threshold, degrees Celsius.
        lower_c: f64,
        /// Upper threshold, degrees Celsius.
        upper_c: f64,
    },
    /// A number is missing or infinite.
    #[error("{what} is not a finite number")]
    NotFinite {
        /// Which number.
        what: &'static str,
    },
    /// Averages know no time of day, so only the horizontal cut-off is defined for them.
    #[error("the {cut_off:?} cut-off is not defined for averages of a day")]
    UndefinedForAverages {
        /// The cut-off asked for.
        cut_off: CutOff,
    },
    /// One reading or none makes no curve.
    #[error("sub-daily degree-days need two readings or more, found {found}")]
    TooFewReadings {
        /// How many there were.
        found: usize,
    },
    /// Readings must be in order of time, each instant once.
    #[error("reading {index} is not later than the one before it")]
    NotInOrder {
        /// Position of the offending reading, from 0.
        index: usize,
    },
}

/// What the rate does above the upper threshold.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum CutOff {
    /// Stays at its value at the threshold. The default for water: a slow-down at heat is rarely
    /// reached before emergence.
    #[default]
    Horizontal,
    /// Falls by as much as it rose below.
    Intermediate,
    /// Is zero.
    Vertical,
}

/// Lower threshold and, where there is a source for one, an upper threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    lower_c: f64,
    upper: Option<(f64, CutOff)>,
}

impl Thresholds {
    /// A lower threshold in degrees Celsius; the rate keeps rising above it.
    ///
    /// # Errors
    /// [`ThermalError::NotFinite`].
    pub fn lower(lower_c: f64) -> Result<Self, ThermalError> {
        finite("the lower threshold", lower_c)?;
        Ok(Self { lower_c, upper: None })
    }

    /// A lower and an upper threshold in degrees Celsius.
    ///
    /// # Errors
    /// [`ThermalError::UpperNotAboveLower`] unless `upper_c > lower_c`; [`ThermalError::NotFinite`].
    pub fn between(lower_c: f64, upper_c: f64, cut_off: CutOff) -> Result<Self, ThermalError> {
        finite("the lower threshold", lower_c)?;
        finite("the upper threshold", upper_c)?;
        if upper_c <= lower_c {
            return Err(ThermalError::UpperNotAboveLower { lower_c, upper_c });
        }
        Ok(Self { lower_c, upper: Some((upper_c, cut_off)) })
    }

    /// The lower threshold, degrees Celsius.
    pub fn lower_c(self) -> f64 {
        self.lower_c
    }

    /// Combines E and f at the thresholds to the total of a day, in degree-days.
    fn total(self, part: impl Fn(f64) -> Part) -> f64 {
        let below = part(self.lower_c).degree_days;
        let Some((upper_c, cut_off)) = self.upper else { return below };
        let above = part(upper_c);
        match cut_off {
            CutOff::Horizontal => below - above.degree_days,
            CutOff::Intermediate => (below - 2.0 * above.degree_days).max(0.0),
            // The true total is never negative; the difference may be by rounding.
            CutOff::Vertical => (below - above.degree_days - (upper_c - self.lower_c) * above.share_above).max(0.0),
        }
    }
}

/// Extremes of one day, degrees Celsius, checked.
#[derive(Debug, Clone, Copy, PartialEq)]
#[expect(clippy::struct_field_names, reason = "units belong in names")]
pub struct DayRange {
    min_c: f64,
    max_c: f64,
    next_min_c: Option<f64>,
}

impl DayRange {
    /// A day's minimum and maximum, degrees Celsius. Equal extremes are a flat day.
    ///
    /// # Errors
    /// [`ThermalError::MinAboveMax`]; [`ThermalError::NotFinite`].
    pub fn new(min_c: f64, max_c: f64) -> Result<Self, ThermalError> {
        finite("the daily minimum", min_c)?;
        finite("the daily maximum", max_c)?;
        if min_c > max_c {
            return Err(ThermalError::MinAboveMax { min_c, max_c });
        }
        Ok(Self { min_c, max_c, next_min_c: None })
    }

    /// Adds the next day's minimum, which the double methods use for the second half of the day.
    /// It may lie above this day's maximum: water can warm that fast.
    ///
    /// # Errors
    /// [`ThermalError::NotFinite`].
    pub fn with_next_min(self, next_min_c: f64) -> Result<Self, ThermalError> {
        finite("the next day's minimum", next_min_c)?;
        Ok(Self { next_min_c: Some(next_min_c), ..self })
    }
}

/// How a day's curve is drawn from its extremes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// One sine through the extremes (Baskerville and Emin 1969, Ecology 50:514-517).
    SingleSine,
    /// Straight up to the maximum and down to the same minimum.
    SingleTriangle,
    /// Half a sine to the maximum, half a sine down to the next day's minimum (Allen 1976,
    /// Environmental Entomology 5:388-396).
    DoubleSine,
    /// As the double sine, with straight lines.
    DoubleTriangle,
    /// max(0, mean of the extremes - L), the mean cut at U first.
    SimpleAverage,
    /// The extremes clamped to L and U first, then their mean - L. Another method than the simple
    /// average: they differ most on cold days with a warm afternoon.
    ClampedAverage,
}

/// Degree-days of one day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayTotal {
    /// Degree-days, Celsius.
    pub degree_days: f64,
    /// True when a double method had no next minimum and fell back to the single form.
    pub fell_back: bool,
}

/// Degree-days of one day by `method`.
///
/// # Errors
/// [`ThermalError::UndefinedForAverages`] for an average with another cut-off than the horizontal.
pub fn degree_days(method: Method, day: DayRange, thresholds: Thresholds) -> Result<DayTotal, ThermalError> {
    let (m, x) = (day.min_c, day.max_c);
    let whole = |degree_days| Ok(DayTotal { degree_days, fell_back: false });
    match method {
        Method::SingleSine => whole(thresholds.total(|c| sine(m, x, c))),
        Method::SingleTriangle => whole(thresholds.total(|c| triangle(m, x, c))),
        Method::DoubleSine => Ok(double(day, thresholds, sine)),
        Method::DoubleTriangle => Ok(double(day, thresholds, triangle)),
        Method::SimpleAverage => {
            let mean = f64::midpoint(m, x);
            let top = average_top(thresholds)?.unwrap_or(f64::INFINITY);
            whole((mean.min(top) - thresholds.lower_c).max(0.0))
        }
        Method::ClampedAverage => {
            let top = average_top(thresholds)?.unwrap_or(f64::INFINITY);
            let clamp = |v: f64| v.max(thresholds.lower_c).min(top);
            whole(f64::midpoint(clamp(m), clamp(x)) - thresholds.lower_c)
        }
    }
}

/// The upper threshold of an average; only the horizontal cut-off makes sense there.
fn average_top(thresholds: Thresholds) -> Result<Option<f64>, ThermalError> {
    match thresholds.upper {
        None => Ok(None),
        Some((upper_c, CutOff::Horizontal)) => Ok(Some(upper_c)),
        Some((_, cut_off)) => Err(ThermalError::UndefinedForAverages { cut_off }),
    }
}

/// Half the single result of (min, max) plus half that of (next min, max), combined before the
/// cut-off so that the intermediate floor applies to the whole day.
fn double(day: DayRange, thresholds: Thresholds, single: fn(f64, f64, f64) -> Part) -> DayTotal {
    let next = day.next_min_c.unwrap_or(day.min_c);
    // The second half runs from the maximum to the next minimum, whichever is higher.
    let (low, high) = (next.min(day.max_c), next.max(day.max_c));
    let degree_days = thresholds.total(|c| {
        let (first, second) = (single(day.min_c, day.max_c, c), single(low, high, c));
        Part {
            degree_days: f64::midpoint(first.degree_days, second.degree_days),
            share_above: f64::midpoint(first.share_above, second.share_above),
        }
    });
    DayTotal { degree_days, fell_back: day.next_min_c.is_none() }
}

fn finite(what: &'static str, value: f64) -> Result<(), ThermalError> {
    if value.is_finite() { Ok(()) } else { Err(ThermalError::NotFinite { what }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn faults_are_named() {
        assert_eq!(DayRange::new(9.0, 2.0), Err(ThermalError::MinAboveMax { min_c: 9.0, max_c: 2.0 }));
        assert!(matches!(DayRange::new(f64::NAN, 2.0), Err(ThermalError::NotFinite { .. })));
        for upper in [10.0, 9.0] {
            let fault = Thresholds::between(10.0, upper, CutOff::Vertical);
            assert_eq!(fault, Err(ThermalError::UpperNotAboveLower { lower_c: 10.0, upper_c: upper }));
        }
        let day = DayRange::new(2.0, 9.0).expect("in order");
        let cut = Thresholds::between(1.0, 5.0, CutOff::Vertical).expect("in order");
        assert!(degree_days(Method::SimpleAverage, day, cut).is_err());
    }

    #[test]
    fn a_double_method_without_tomorrow_falls_back_and_says_so() {
        let day = DayRange::new(4.0, 20.0).expect("in order");
        let base = Thresholds::lower(10.0).expect("finite");
        let single = degree_days(Method::SingleSine, day, base).expect("defined");
        let double = degree_days(Method::DoubleSine, day, base).expect("defined");
        assert_eq!(single.degree_days, double.degree_days);
        assert!(double.fell_back && !single.fell_back);
        let whole = degree_days(Method::DoubleSine, day.with_next_min(6.0).expect("finite"), base).expect("defined");
        assert!((whole.degree_days - 3.781_298_199_5).abs() < 1e-9 && !whole.fell_back);
    }

    #[test]
    fn tomorrows_minimum_may_lie_above_todays_maximum() {
        // Half a day at 5..9 (nothing above 10), half rising from 9 to 13.
        let day = DayRange::new(5.0, 9.0).expect("in order").with_next_min(13.0).expect("finite");
        let base = Thresholds::lower(10.0).expect("finite");
        let total = degree_days(Method::DoubleTriangle, day, base).expect("defined").degree_days;
        assert!((total - 0.5 * 9.0 / 8.0).abs() < 1e-12, "{total}");
    }
}
