//! Mode, curvature and evidence: the Laplace approximation of a posterior.

use nalgebra::{Cholesky, DMatrix, DVector, Dyn, SymmetricEigen};
use thiserror::Error;

use super::optimise::{Stop, lbfgs};
use super::posterior::{Objective, Priors, Workspace};
use super::probes::{Probe, probes};

/// Step of [`Laplace::log_det_slope`], posterior sds.
const LOG_DET_STEP: f64 = 0.03;

/// Why no approximation could be made.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LaplaceError {
    /// The objective is not finite at the start.
    #[error("the posterior is not finite at the start")]
    Start,
    /// The curvature at the mode is not positive.
    #[error("the posterior is not curved upward at its mode (smallest eigenvalue {smallest})")]
    NotPositive {
        /// Smallest eigenvalue of the Hessian.
        smallest: f64,
    },
}

/// A normal approximation around the mode, over the free parameters.
#[derive(Debug, Clone)]
pub struct Laplace {
    /// All parameters at the mode (those not free at their fixed value).
    pub mode: Vec<f64>,
    /// Negative log posterior there.
    pub value: f64,
    /// Indices of the free parameters.
    pub free: Vec<usize>,
    /// Lower triangle L of the precision matrix H = L L'.
    pub precision: Cholesky<f64, Dyn>,
    /// Log evidence: -value - log|H|/2 + n/2 log 2 pi.
    pub log_evidence: f64,
    /// Value-and-gradient calls used.
    pub evaluations: usize,
}

impl Laplace {
    /// Posterior standard deviations of all parameters, 0 for those not free.
    #[must_use]
    pub fn sds(&self) -> Vec<f64> {
        let mut sds = vec![0.0; self.mode.len()];
        let covariance = self.precision.inverse();
        for (row, &index) in self.free.iter().enumerate() {
            sds[index] = covariance[(row, row)].sqrt();
        }
        sds
    }

    /// The parameter vector for standard normal deviates `z` (one per free parameter).
    #[must_use]
    pub fn draw(&self, z: &[f64]) -> Vec<f64> {
        let mut x = DVector::from_column_slice(z);
        // Cov = H^-1 = L'^-1 L^-1, so x = L'^-1 z has that covariance.
        self.precision.l_dirty().ad_solve_lower_triangular_mut(&mut x);
        let mut theta = self.mode.clone();
        for (row, &index) in self.free.iter().enumerate() {
            theta[index] += x[row];
        }
        theta
    }
}

impl Laplace {
    /// Log determinant of the precision.
    #[must_use]
    pub fn log_det(&self) -> f64 {
        log_det(&self.precision)
    }

    /// How fast log|H| changes as the parameters leave the mode along `direction` (one entry per free
    /// parameter), by a forward difference. `None` where the surface beside the mode is no valley.
    #[must_use]
    pub fn log_det_slope(&self, objective: &Objective<'_>, direction: &DVector<f64>) -> Option<f64> {
        // In posterior sds; the step is a small part of one.
        let length = (self.precision.l().transpose() * direction).norm();
        if length <= 0.0 {
            return Some(0.0);
        }
        let step = LOG_DET_STEP / length;
        let mut theta = self.mode.clone();
        self.free.iter().zip(direction).for_each(|(&index, d)| theta[index] += step * d);
        let mut work = Workspace::default();
        let mut surface =
            |theta: &[f64], gradient: &mut [f64]| objective.value_and_gradient(theta, gradient, &mut work);
        let search = Search::new(&theta, objective.priors);
        let hessian = search.hessian(&theta, &probes(objective.data, &search.free), &mut surface);
        Some((log_det(&Cholesky::new(hessian)?) - self.log_det()) / step)
    }
}

fn log_det(factor: &Cholesky<f64, Dyn>) -> f64 {
    let l = factor.l_dirty();
    2.0 * (0..l.nrows()).map(|i| l[(i, i)].ln()).sum::<f64>()
}

/// Finds the mode from `start` and the curvature there.
///
/// # Errors
/// [`LaplaceError`] when the start is outside the posterior's support or the end is no minimum.
pub fn approximate(objective: &Objective<'_>, start: &[f64], stop: Stop) -> Result<Laplace, LaplaceError> {
    let mut work = Workspace::default();
    let mut surface = |theta: &[f64], gradient: &mut [f64]| objective.value_and_gradient(theta, gradient, &mut work);
    let search = Search::new(start, objective.priors);
    let probes = probes(objective.data, &search.free);
    search.approximate(stop, &probes, &mut surface)
}

/// [`approximate`] for any negative log posterior: `surface` returns its value and writes its gradient
/// in all parameters; `priors` tell which are free and on what scale.
///
/// # Errors
/// [`LaplaceError`] when the start is outside the posterior's support or the end is no minimum.
pub fn approximate_surface(
    surface: &mut Surface<'_>,
    start: &[f64],
    priors: &Priors,
    stop: Stop,
) -> Result<Laplace, LaplaceError> {
    let search = Search::new(start, priors);
    let probes: Vec<Probe> = (0..search.free.len()).map(|column| Probe::alone(column, search.free.len())).collect();
    search.approximate(stop, &probes, surface)
}

/// Mode and value only, from `start`; cheaper, for comparing starts.
#[must_use]
pub fn mode_from(objective: &Objective<'_>, start: &[f64], stop: Stop) -> (Vec<f64>, f64) {
    let mut work = Workspace::default();
    let mut surface = |theta: &[f64], gradient: &mut [f64]| objective.value_and_gradient(theta, gradient, &mut work);
    let (theta, value, _) = Search::new(start, objective.priors).minimise(stop, &mut surface);
    (theta, value)
}

/// A negative log posterior: takes all parameters, writes the gradient, returns the value.
pub type Surface<'a> = dyn FnMut(&[f64], &mut [f64]) -> f64 + 'a;

struct Search<'a> {
    start: &'a [f64],
    free: Vec<usize>,
    scale: Vec<f64>,
}

impl<'a> Search<'a> {
    fn new(start: &'a [f64], priors: &Priors) -> Self {
        let free = priors.free();
        // Effects by their sd, days by 5: what makes the surface round enough for L-BFGS.
        let scale = free.iter().map(|&i| priors.0[i].sd.min(5.0)).collect();
        Self { start, free, scale }
    }

    fn approximate(&self, stop: Stop, probes: &[Probe], surface: &mut Surface<'_>) -> Result<Laplace, LaplaceError> {
        let (mode, value, used) = self.minimise(stop, surface);
        if !value.is_finite() {
            return Err(LaplaceError::Start);
        }
        self.curvature(mode, used, probes, surface)
    }

    fn expand(&self, x: &[f64]) -> Vec<f64> {
        let mut theta = self.start.to_vec();
        for ((&index, scale), value) in self.free.iter().zip(&self.scale).zip(x) {
            theta[index] = value * scale;
        }
        theta
    }

    fn scaled(&self, x: &[f64], gradient: &mut [f64], surface: &mut Surface<'_>) -> f64 {
        let theta = self.expand(x);
        let mut full = vec![0.0; theta.len()];
        let value = surface(&theta, &mut full);
        for ((g, &index), scale) in gradient.iter_mut().zip(&self.free).zip(&self.scale) {
            *g = full[index] * scale;
        }
        value
    }

    fn minimise(&self, stop: Stop, surface: &mut Surface<'_>) -> (Vec<f64>, f64, usize) {
        let x: Vec<f64> = self.free.iter().zip(&self.scale).map(|(&i, s)| self.start[i] / s).collect();
        let found = lbfgs(x, stop, |x, g| self.scaled(x, g, surface));
        (self.expand(&found.x), found.value, found.evaluations)
    }

    /// Hessian by central differences of the gradient; up to three Newton steps on the way.
    fn curvature(
        &self,
        mut theta: Vec<f64>,
        mut used: usize,
        probes: &[Probe],
        surface: &mut Surface<'_>,
    ) -> Result<Laplace, LaplaceError> {
        let n = self.free.len();
        let mut gradient = vec![0.0; theta.len()];
        let mut value = surface(&theta, &mut gradient);
        for round in 0..4 {
            let hessian = self.hessian(&theta, probes, surface);
            used += 2 * probes.len() + 1;
            let g = DVector::from_iterator(n, self.free.iter().map(|&i| gradient[i]));
            let factor = Cholesky::new(hessian.clone());
            if let Some(factor) = &factor {
                let step = factor.solve(&g);
                // Expected fall of the value; far below any posterior sd when tiny.
                let fall = 0.5 * g.dot(&step);
                if fall < 1e-10 || round == 3 {
                    let log_evidence =
                        -value - 0.5 * log_det(factor) + 0.5 * n as f64 * (2.0 * std::f64::consts::PI).ln();
                    return Ok(Laplace {
                        mode: theta,
                        value,
                        free: self.free.clone(),
                        precision: factor.clone(),
                        log_evidence,
                        evaluations: used,
                    });
                }
                let mut moved = false;
                for part in [1.0, 0.5, 0.1] {
                    let mut trial = theta.clone();
                    for (row, &index) in self.free.iter().enumerate() {
                        trial[index] -= part * step[row];
                    }
                    let mut trial_gradient = vec![0.0; theta.len()];
                    let trial_value = surface(&trial, &mut trial_gradient);
                    if trial_value < value {
                        (theta, value, gradient) = (trial, trial_value, trial_gradient);
                        moved = true;
                        break;
                    }
                }
                if moved {
                    continue;
                }
                // A kink (the mean climate is linear between days): stay, take the curvature as it is.
                let log_evidence = -value - 0.5 * log_det(factor) + 0.5 * n as f64 * (2.0 * std::f64::consts::PI).ln();
                return Ok(Laplace {
                    mode: theta,
                    value,
                    free: self.free.clone(),
                    precision: factor.clone(),
                    log_evidence,
                    evaluations: used,
                });
            }
            let smallest = SymmetricEigen::new(hessian).eigenvalues.min();
            return Err(LaplaceError::NotPositive { smallest });
        }
        Err(LaplaceError::NotPositive { smallest: f64::NAN })
    }

    fn hessian(&self, theta: &[f64], probes: &[Probe], surface: &mut Surface<'_>) -> DMatrix<f64> {
        let n = self.free.len();
        let mut hessian = DMatrix::from_element(n, n, f64::NAN);
        let mut at = theta.to_vec();
        let (mut up, mut down) = (vec![0.0; theta.len()], vec![0.0; theta.len()]);
        let step = |column: usize| 1e-5 * self.scale[column].max(1e-3);
        for probe in probes {
            let mut moved = |sign: f64, gradient: &mut [f64]| {
                for &column in &probe.columns {
                    at[self.free[column]] = theta[self.free[column]] + sign * step(column);
                }
                surface(&at, gradient);
            };
            moved(1.0, &mut up);
            moved(-1.0, &mut down);
            for &column in &probe.columns {
                at[self.free[column]] = theta[self.free[column]];
            }
            for &(row, column) in &probe.entries {
                let index = self.free[row];
                hessian[(row, column)] = (up[index] - down[index]) / (2.0 * step(column));
            }
        }
        // An entry read both ways is the mean of both; one read neither way is zero.
        DMatrix::from_fn(n, n, |row, column| match (hessian[(row, column)], hessian[(column, row)]) {
            (a, b) if a.is_nan() && b.is_nan() => 0.0,
            (a, b) if a.is_nan() => b,
            (a, b) if b.is_nan() => a,
            (a, b) => 0.5 * (a + b),
        })
    }
}
