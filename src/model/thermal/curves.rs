//! E(c) and f(c) of the two shapes of a day.

use std::f64::consts::{FRAC_1_PI, FRAC_PI_2};

/// What a day, or a part of one, contributes at one threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// E(c), degree-days above the threshold.
    pub degree_days: f64,
    /// f(c), share of the day above it, 0 to 1; minus the derivative of E by the threshold.
    pub share_above: f64,
}

/// E and f of a single sine from `tmin_c` to `tmax_c` at threshold `c` (Baskerville and Emin 1969,
/// Ecology 50:514-517). A flat day is caught by the outer cases. Extremes must be in order.
#[must_use]
pub fn sine(tmin_c: f64, tmax_c: f64, c: f64) -> Part {
    let (degree_days, share_above) = degree_days_sine(tmin_c, tmax_c, c);
    Part { degree_days, share_above }
}

/// E and f of a single triangle from `tmin_c` to `tmax_c` at threshold `c`; extremes in order.
#[must_use]
pub fn triangle(tmin_c: f64, tmax_c: f64, c: f64) -> Part {
    if c >= tmax_c {
        Part { degree_days: 0.0, share_above: 0.0 }
    } else if c <= tmin_c {
        Part { degree_days: f64::midpoint(tmin_c, tmax_c) - c, share_above: 1.0 }
    } else {
        let (rest, range) = (tmax_c - c, tmax_c - tmin_c);
        Part { degree_days: rest * rest / (2.0 * range), share_above: rest / range }
    }
}

/// The single sine as the fit's inner loop needs it: (E(base), f(base)), so that the derivative of
/// E by the base is -f. Degrees Celsius; extremes must be in order, nothing is checked.
#[inline]
#[must_use]
pub fn degree_days_sine(tmin_c: f64, tmax_c: f64, base_c: f64) -> (f64, f64) {
    if base_c >= tmax_c {
        return (0.0, 0.0);
    }
    let mean = 0.5 * (tmin_c + tmax_c);
    if base_c <= tmin_c {
        return (mean - base_c, 1.0);
    }
    let theta = ((base_c - mean) / (0.5 * (tmax_c - tmin_c))).asin();
    // Amplitude times cos theta, without a second trigonometric call.
    let chord = ((tmax_c - base_c) * (base_c - tmin_c)).sqrt();
    (((mean - base_c) * (FRAC_PI_2 - theta) + chord) * FRAC_1_PI, 0.5 - theta * FRAC_1_PI)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn share_above_is_minus_the_slope_of_the_sum() {
        // Worked value: 4..20 at 10 gives f = 0.5804306 (computed with numpy, central difference).
        assert!((sine(4.0, 20.0, 10.0).share_above - 0.580_430_6).abs() < 5e-8);
        let step = 1e-5;
        for shape in [sine, triangle] {
            for (m, x) in [(4.0, 20.0), (-2.0, 3.0), (9.5, 10.5)] {
                for share in [0.05, 0.3, 0.5, 0.8, 0.97] {
                    let c = m + share * (x - m);
                    let slope = (shape(m, x, c + step).degree_days - shape(m, x, c - step).degree_days) / (2.0 * step);
                    assert!((slope + shape(m, x, c).share_above).abs() < 1e-8, "{m} {x} {c}");
                }
            }
        }
    }

    #[test]
    fn a_flat_day_divides_by_nothing() {
        for shape in [sine, triangle] {
            assert_eq!(shape(7.0, 7.0, 4.0), Part { degree_days: 3.0, share_above: 1.0 });
            assert_eq!(shape(7.0, 7.0, 7.0), Part { degree_days: 0.0, share_above: 0.0 });
            assert_eq!(shape(7.0, 7.0, 9.0), Part { degree_days: 0.0, share_above: 0.0 });
        }
    }
}
