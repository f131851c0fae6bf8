//! Least squares within bounds: Levenberg and Marquardt's steps, projected.
//!
//! Nocedal and Wright, Numerical Optimization, 2nd ed., section 10.3, with the damping on the
//! diagonal of the normal matrix as Marquardt (1963) has it (both from memory). Parameters are
//! measured in units of the width of their bounds. One that stands on a bound and would be pushed
//! over it is held for the step. Derivatives are differences, since the residuals come from
//! simulations.

use nalgebra::{DMatrix, DVector};

/// Step of the differences, as a share of the width of the bounds.
const DIFFERENCE: f64 = 1e-6;
/// First damping.
const FIRST_DAMPING: f64 = 1e-3;
/// Beyond this damping no step is worth trying.
const LARGEST_DAMPING: f64 = 1e12;

/// Lower and upper bound of one parameter; the upper is larger.
pub type Bounds = (f64, f64);

/// When to stop.
#[derive(Debug, Clone, Copy)]
pub struct Stop {
    /// Most steps.
    pub max_steps: usize,
    /// Relative fall of the sum of squares below which the search has arrived.
    pub relative_fall: f64,
}

/// Where the search ended.
#[derive(Debug, Clone, PartialEq)]
pub struct LeastSquares {
    /// The parameters, within their bounds.
    pub x: Vec<f64>,
    /// Sum of squared residuals there.
    pub sum_of_squares: f64,
    /// Whether it arrived, rather than ran out of steps.
    pub arrived: bool,
}

/// Minimises the sum of squares of what `residuals` writes for given parameters, from `start`
/// (moved into the bounds). `residuals` writes the same number of values each time; a parameter
/// vector for which one is not finite is never stepped to.
pub fn least_squares(
    start: &[f64],
    bounds: &[Bounds],
    stop: Stop,
    mut residuals: impl FnMut(&[f64], &mut Vec<f64>),
) -> LeastSquares {
    let mut search = Search {
        bounds,
        here: start.iter().zip(bounds).map(|(x, (low, high))| x.clamp(*low, *high)).collect(),
        now: Vec::new(),
        there: Vec::new(),
    };
    residuals(&search.here, &mut search.now);
    let mut sum = squares(&search.now);
    let mut damping = FIRST_DAMPING;
    for _ in 0..stop.max_steps {
        let jacobian = search.jacobian(&mut residuals);
        let gradient = jacobian.tr_mul(&DVector::from_column_slice(&search.now));
        let normal = jacobian.tr_mul(&jacobian);
        let before = sum;
        while damping < LARGEST_DAMPING {
            let Some(candidate) = search.candidate(&normal, &gradient, damping) else { break };
            residuals(&candidate, &mut search.there);
            let found = squares(&search.there);
            if found < sum {
                (search.here, sum) = (candidate, found);
                std::mem::swap(&mut search.now, &mut search.there);
                damping = (damping / 10.0).max(1e-12);
                break;
            }
            damping *= 10.0;
        }
        // Also true when no damping gave a fall: nothing better is in reach.
        if before - sum <= stop.relative_fall * before {
            return LeastSquares { x: search.here, sum_of_squares: sum, arrived: true };
        }
    }
    LeastSquares { x: search.here, sum_of_squares: sum, arrived: false }
}

struct Search<'a> {
    bounds: &'a [Bounds],
    here: Vec<f64>,
    /// Residuals at `here`, and room for those of another point.
    now: Vec<f64>,
    there: Vec<f64>,
}

impl Search<'_> {
    /// Derivatives of the residuals by the parameters in units of their bounds' width.
    fn jacobian(&mut self, residuals: &mut impl FnMut(&[f64], &mut Vec<f64>)) -> DMatrix<f64> {
        let mut jacobian = DMatrix::zeros(self.now.len(), self.here.len());
        let mut beside = self.here.clone();
        for (k, (low, high)) in self.bounds.iter().enumerate() {
            // Inward from the upper bound, so that the bounds hold here as well.
            let step = DIFFERENCE * (high - low);
            let step = if self.here[k] + step > *high { -step } else { step };
            beside[k] = self.here[k] + step;
            residuals(&beside, &mut self.there);
            let scale = (high - low) / step;
            for (row, (there, now)) in self.there.iter().zip(&self.now).enumerate() {
                jacobian[(row, k)] = (there - now) * scale;
            }
            beside[k] = self.here[k];
        }
        jacobian
    }

    /// The damped step from here, cut at the bounds; `None` when every parameter is held.
    fn candidate(&self, normal: &DMatrix<f64>, gradient: &DVector<f64>, damping: f64) -> Option<Vec<f64>> {
        let held = |k: usize| {
            let (low, high) = self.bounds[k];
            (self.here[k] <= low && gradient[k] > 0.0) || (self.here[k] >= high && gradient[k] < 0.0)
        };
        let free: Vec<usize> = (0..self.here.len()).filter(|k| !held(*k)).collect();
        let largest = free.iter().map(|k| normal[(*k, *k)]).fold(0.0, f64::max);
        if largest <= 0.0 || !largest.is_finite() {
            return None;
        }
        let matrix = DMatrix::from_fn(free.len(), free.len(), |i, j| {
            let entry = normal[(free[i], free[j])];
            // A parameter without any effect would make the matrix singular.
            if i == j { entry + damping * entry.max(1e-12 * largest) } else { entry }
        });
        let right = DVector::from_fn(free.len(), |i, _| -gradient[free[i]]);
        let step = matrix.cholesky().map(|factor| factor.solve(&right));
        // Rounding can spoil a nearly singular matrix; stronger damping is down the gradient.
        let step = step.unwrap_or_else(|| right / (largest * (1.0 + damping)));
        let mut candidate = self.here.clone();
        for (i, k) in free.iter().enumerate() {
            let (low, high) = self.bounds[*k];
            candidate[*k] = (candidate[*k] + step[i] * (high - low)).clamp(low, high);
        }
        Some(candidate)
    }
}

/// Sum of squares; infinite when a value is not finite.
fn squares(values: &[f64]) -> f64 {
    let sum: f64 = values.iter().map(|v| v * v).sum();
    if sum.is_finite() { sum } else { f64::INFINITY }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STOP: Stop = Stop { max_steps: 100, relative_fall: 1e-12 };

    /// y = b0 (1 - exp(-b1 x)), Misra1a of the NIST reference sets for nonlinear regression: certified
    /// 2.3894212918E+02, 5.5015643181E-04, residual sum of squares 1.2455138894E-01.
    fn misra(b: &[f64], out: &mut Vec<f64>) {
        const X: [f64; 14] =
            [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0];
        const Y: [f64; 14] =
            [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78];
        out.clear();
        out.extend(X.iter().zip(Y).map(|(x, y)| b[0] * (1.0 - (-b[1] * x).exp()) - y));
    }

    #[test]
    fn a_certified_regression_is_met() {
        let found = least_squares(&[500.0, 1e-4], &[(0.0, 1000.0), (0.0, 0.01)], STOP, misra);
        assert!(found.arrived, "{found:?}");
        assert!((found.x[0] / 238.942_129_18 - 1.0).abs() < 1e-5, "{found:?}");
        assert!((found.x[1] / 5.501_564_318_1e-4 - 1.0).abs() < 1e-5, "{found:?}");
        assert!((found.sum_of_squares / 0.124_551_388_94 - 1.0).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn a_bound_is_kept_and_the_rest_is_best_on_it() {
        // The nearest point to (3, 1) with x at most 2, where y is pulled along by x: minimum of
        // (x - 3)^2 + (x + y - 4)^2 at x = 2 is y = 2.
        let bounds = [(-2.0, 2.0), (-10.0, 10.0)];
        let found = least_squares(&[0.0, 0.0], &bounds, STOP, |x, out| {
            out.clear();
            out.extend([x[0] - 3.0, x[0] + x[1] - 4.0]);
        });
        assert!((found.x[0] - 2.0).abs() < 1e-9 && (found.x[1] - 2.0).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn points_without_a_value_are_not_stepped_to() {
        // Defined for x > 1 only; the full step from 4 would leave.
        let found = least_squares(&[4.0], &[(-100.0, 100.0)], STOP, |x, out| {
            out.clear();
            out.push(if x[0] > 1.0 { (x[0] - 1.0).ln() + 3.0 } else { f64::NAN });
        });
        assert!((found.x[0] - 1.0 - (-3.0_f64).exp()).abs() < 1e-6, "{found:?}");
    }
}
