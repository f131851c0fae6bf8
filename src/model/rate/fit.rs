//! Least squares of development times on a power law.

use thiserror::Error;

use super::RateCurve;

/// A power law Y = a T^-b fitted to development times.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerFit {
    /// Days at 1 C.
    pub a_days: f64,
    /// Exponent, positive when warmth hastens development.
    pub b: f64,
    /// Share of the variance of log time explained.
    pub r2: f64,
    /// Mean absolute error of the times, percent.
    pub mean_error_pct: f64,
    /// Coldest and warmest temperature used, degrees Celsius: the range the law may be used in.
    pub range_c: (f64, f64),
}

impl PowerFit {
    /// The fitted curve.
    #[must_use]
    pub fn curve(&self) -> RateCurve {
        RateCurve::Power { a_days: self.a_days, b: self.b }
    }
}

/// Why a power law cannot be fitted.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum RateFitError {
    /// A line needs two different temperatures.
    #[error("a power law needs times at two or more different temperatures")]
    TooFewTemperatures,
    /// Logarithms are taken of both.
    #[error("point {index}: temperature and time must be positive and finite")]
    NotPositive {
        /// Position of the offending point, from 0.
        index: usize,
    },
}

/// Fits log days on log temperature by ordinary least squares. `points` are (temperature in degrees
/// Celsius, development time in days).
///
/// # Errors
/// [`RateFitError`].
pub fn fit_power_law(points: &[(f64, f64)]) -> Result<PowerFit, RateFitError> {
    if let Some(index) = points.iter().position(|&(t, y)| !(t > 0.0 && y > 0.0 && t.is_finite() && y.is_finite())) {
        return Err(RateFitError::NotPositive { index });
    }
    let n = points.len() as f64;
    let mean = |f: fn(&(f64, f64)) -> f64| points.iter().map(f).sum::<f64>() / n;
    let (mx, my) = (mean(|p| p.0.ln()), mean(|p| p.1.ln()));
    let (mut sxx, mut sxy, mut syy) = (0.0, 0.0, 0.0);
    for &(t, y) in points {
        let (dx, dy) = (t.ln() - mx, y.ln() - my);
        sxx += dx * dx;
        sxy += dx * dy;
        syy += dy * dy;
    }
    if points.is_empty() || sxx <= f64::EPSILON {
        return Err(RateFitError::TooFewTemperatures);
    }
    let slope = sxy / sxx;
    let (a_days, b) = ((my - slope * mx).exp(), -slope);
    let error = points.iter().map(|&(t, y)| (a_days * t.powf(-b) / y - 1.0).abs()).sum::<f64>() / n;
    let r2 = if syy > 0.0 { sxy * sxy / (sxx * syy) } else { 1.0 };
    let low = points.iter().map(|p| p.0).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|p| p.0).fold(f64::NEG_INFINITY, f64::max);
    Ok(PowerFit { a_days, b, r2, mean_error_pct: 100.0 * error, range_c: (low, high) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_exact_law_is_found_again() {
        let points: Vec<_> = [4.0, 7.0, 12.0, 20.0].iter().map(|&t: &f64| (t, 767.0 * t.powf(-1.5))).collect();
        let fit = fit_power_law(&points).expect("four temperatures");
        assert!((fit.a_days - 767.0).abs() < 1e-9 && (fit.b - 1.5).abs() < 1e-12 && fit.r2 > 1.0 - 1e-12);
        assert_eq!(fit.range_c, (4.0, 20.0));
        assert!((fit.curve().per_day(7.0) * points[1].1 - 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_has_no_logarithm_is_refused() {
        assert_eq!(fit_power_law(&[(0.0, 3.0), (4.0, 2.0)]), Err(RateFitError::NotPositive { index: 0 }));
        assert_eq!(fit_power_law(&[(4.0, 3.0), (4.0, 2.0)]), Err(RateFitError::TooFewTemperatures));
        assert_eq!(fit_power_law(&[]), Err(RateFitError::TooFewTemperatures));
    }
}
