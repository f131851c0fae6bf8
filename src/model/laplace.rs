//! Mode, curvature and evidence: the Laplace approximation of a posterior.

use std::f64::consts::PI;

use nalgebra::{Cholesky, DMatrix, DVector, Dyn, SymmetricEigen};
use thiserror::Error;

use super::optimise::{Stop, lbfgs};
use super::posterior::{Objective, Priors, Workspace};

/// Step of [`Laplace::log_det_slope`], posterior sds.
const LOG_DET_STEP: f64 = 0.03;
/// Most Newton steps after a search, and the expected fall of the value that is not worth one.
const MOST_STEPS: usize = 10;
const LITTLE_FALL: f64 = 1e-10;
/// Largest gradient, in scaled coordinates, from which Newton steps take over: some tenths of a posterior
/// sd from the mode at most, where each of them doubles the digits.
const NEAR: f64 = 0.1;

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
    /// Value-and-gradient calls used, those within Hessians aside.
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

    /// Standard deviation of a sum of parameters, each given by its index and what it is multiplied by.
    #[must_use]
    pub fn sd_of_sum(&self, terms: &[(usize, f64)]) -> f64 {
        let factor_of = |index: usize| terms.iter().filter(|term| term.0 == index).map(|term| term.1).sum::<f64>();
        let mut x = DVector::from_iterator(self.free.len(), self.free.iter().map(|&index| factor_of(index)));
        // Cov = L'^-1 L^-1, so the variance of w'x is |L^-1 w|^2.
        self.precision.l_dirty().solve_lower_triangular_mut(&mut x);
        x.norm()
    }

    /// How the free parameter of index `row` in the list of free ones deviates from its mode per standard normal
    /// deviate, from deviate `row` on; it does not depend on those before.
    #[must_use]
    pub fn deviate_weights(&self, row: usize) -> Vec<f64> {
        let factor = self.precision.l_dirty();
        // Row `row` of L'^-1 is column `row` of L^-1.
        let mut weights = vec![0.0; self.free.len() - row];
        weights[0] = 1.0;
        for column in row..self.free.len() {
            let weight = weights[column - row] / factor[(column, column)];
            weights[column - row] = weight;
            for below in column + 1..self.free.len() {
                weights[below - row] -= factor[(below, column)] * weight;
            }
        }
        weights
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
        let hessian = objective.hessian(&theta, &self.free, &mut Workspace::default());
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
    let mut work = Workspace::default();
    search.approximate(stop, &mut surface, &mut |theta, _| objective.hessian(theta, &search.free, &mut work))
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
    search.approximate(stop, surface, &mut |theta, surface| search.differences(theta, surface))
}

/// Mode and value only, from `start`; cheaper, for comparing starts.
#[must_use]
pub fn mode_from(objective: &Objective<'_>, start: &[f64], stop: Stop) -> (Vec<f64>, f64) {
    let mut work = Workspace::default();
    let mut surface = |theta: &[f64], gradient: &mut [f64]| objective.value_and_gradient(theta, gradient, &mut work);
    let (theta, value, _) = Search::new(start, objective.priors).minimise(start, stop, &mut surface);
    (theta, value)
}

/// A negative log posterior: takes all parameters, writes the gradient, returns the value.
pub type Surface<'a> = dyn FnMut(&[f64], &mut [f64]) -> f64 + 'a;

/// Takes all parameters and the surface, returns the Hessian over the free ones.
type Curvature<'a> = dyn FnMut(&[f64], &mut Surface<'_>) -> DMatrix<f64> + 'a;

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

    /// A search until Newton steps are worth more, then those; where they do not end at a mode (a kink, a
    /// saddle), a search as far as `stop` says, and steps again.
    fn approximate(
        &self,
        stop: Stop,
        surface: &mut Surface<'_>,
        curvature: &mut Curvature<'_>,
    ) -> Result<Laplace, LaplaceError> {
        let near = Stop { gradient: stop.gradient.max(NEAR), ..stop };
        let (mode, value, used) = self.minimise(self.start, near, surface);
        if !value.is_finite() {
            return Err(LaplaceError::Start);
        }
        let first = self.polish(mode, used, surface, curvature);
        if let Ok((laplace, true)) = first {
            return Ok(laplace);
        }
        let (from, used) =
            first.map_or((self.start.to_vec(), used), |(laplace, _)| (laplace.mode, laplace.evaluations));
        let (mode, _, more) = self.minimise(&from, stop, surface);
        Ok(self.polish(mode, used + more, surface, curvature)?.0)
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

    fn minimise(&self, from: &[f64], stop: Stop, surface: &mut Surface<'_>) -> (Vec<f64>, f64, usize) {
        let x: Vec<f64> = self.free.iter().zip(&self.scale).map(|(&i, s)| from[i] / s).collect();
        let found = lbfgs(x, stop, |x, g| self.scaled(x, g, surface));
        (self.expand(&found.x), found.value, found.evaluations)
    }

    /// Newton steps from `theta`, the curvature where they end, and whether that is a mode.
    fn polish(
        &self,
        mut theta: Vec<f64>,
        mut used: usize,
        surface: &mut Surface<'_>,
        curvature: &mut Curvature<'_>,
    ) -> Result<(Laplace, bool), LaplaceError> {
        let n = self.free.len();
        let mut gradient = vec![0.0; theta.len()];
        let mut value = surface(&theta, &mut gradient);
        used += 1;
        let mut steps = 0;
        loop {
            let hessian = curvature(&theta, surface);
            let Some(factor) = Cholesky::new(hessian.clone()) else {
                let smallest = SymmetricEigen::new(hessian).eigenvalues.min();
                return Err(LaplaceError::NotPositive { smallest });
            };
            let g = DVector::from_iterator(n, self.free.iter().map(|&i| gradient[i]));
            let step = factor.solve(&g);
            // Expected fall of the value; far below any posterior sd when tiny.
            let there = 0.5 * g.dot(&step) < LITTLE_FALL;
            // No fall at all is a kink (the mean climate is linear between days): stay, with its curvature.
            if there
                || steps == MOST_STEPS
                || !self.step(&step, (&mut theta, &mut value, &mut gradient), &mut used, surface)
            {
                let log_evidence = -value - 0.5 * log_det(&factor) + 0.5 * n as f64 * (2.0 * PI).ln();
                let free = self.free.clone();
                let laplace = Laplace { mode: theta, value, free, precision: factor, log_evidence, evaluations: used };
                return Ok((laplace, there));
            }
            steps += 1;
        }
    }

    /// Goes along minus `step`, as far as the value falls; false where it does not.
    fn step(
        &self,
        step: &DVector<f64>,
        (theta, value, gradient): (&mut Vec<f64>, &mut f64, &mut Vec<f64>),
        used: &mut usize,
        surface: &mut Surface<'_>,
    ) -> bool {
        for part in [1.0, 0.5, 0.1] {
            let mut trial = theta.clone();
            self.free.iter().zip(step).for_each(|(&index, s)| trial[index] -= part * s);
            let mut trial_gradient = vec![0.0; trial.len()];
            let trial_value = surface(&trial, &mut trial_gradient);
            *used += 1;
            if trial_value < *value {
                (*theta, *value, *gradient) = (trial, trial_value, trial_gradient);
                return true;
            }
        }
        false
    }

    /// Hessian by central differences of the gradient.
    fn differences(&self, theta: &[f64], surface: &mut Surface<'_>) -> DMatrix<f64> {
        let n = self.free.len();
        let mut hessian = DMatrix::zeros(n, n);
        let mut at = theta.to_vec();
        let (mut up, mut down) = (vec![0.0; theta.len()], vec![0.0; theta.len()]);
        for (column, &index) in self.free.iter().enumerate() {
            let step = 1e-5 * self.scale[column].max(1e-3);
            at[index] = theta[index] + step;
            surface(&at, &mut up);
            at[index] = theta[index] - step;
            surface(&at, &mut down);
            at[index] = theta[index];
            for (row, &other) in self.free.iter().enumerate() {
                hessian[(row, column)] = (up[other] - down[other]) / (2.0 * step);
            }
        }
        0.5 * (&hessian + hessian.transpose())
    }
}
