//! Where the posterior's mean lies from its mode.
//!
//! To the first order in the third derivatives of the density (Tierney and Kadane 1986, J. Am. Stat. Assoc.
//! 81:82-86; from memory), mean - mode = -S w / 2, with S the inverse of the curvature H at the mode and w the
//! slope of ln|H|: w_j is the sum of S times the slope of H along j. With S = R R' that is the sum over R's columns of
//! the second differences of the gradient along them, two gradients for each parameter.
//!
//! Records of one site-year depend on few quantities: the parameters common to all, and its own shift,
//! split and level. So one gradient serves all site-years at once, each moved along a column of the root of its own
//! covariance: the effects of its site and year, as far as they move it, are put into its own. The priors are
//! normal and have no third derivatives.

use nalgebra::{DMatrix, DVector};

use crate::model::laplace::Laplace;
use crate::model::posterior::layout::Layout;
use crate::model::posterior::{Objective, Unit, Workspace};

/// Half the width of the second differences, posterior sds: so wide that the kinks of a clock that is
/// joined from day to day do not count.
const STEP: f64 = 0.7;
/// Farthest that any parameter is moved, posterior sds: beyond, third derivatives alone tell little (with 1.5, the few
/// mayflies of Hubbard Brook lost all their spread).
const FARTHEST: f64 = 1.0;
/// A site-year's own quantities: shift, split and level.
const OWN: usize = 3;

/// The posterior mean of all parameters; those not free as they are held.
#[must_use]
pub(super) fn posterior_mean(objective: &Objective<'_>, laplace: &Laplace) -> Vec<f64> {
    let covariance = laplace.precision.inverse();
    let slope = slope_of_log_det(objective, laplace, &covariance);
    let moved = -0.5 * (&covariance * slope);
    let mut mean = laplace.mode.clone();
    // A step that leaves the density's support tells no slope.
    if moved.iter().all(|d| d.is_finite()) {
        let sds = |(row, d): (usize, &f64)| d.abs() / covariance[(row, row)].sqrt();
        let part = (FARTHEST / moved.iter().enumerate().map(sds).fold(0.0, f64::max)).min(1.0);
        laplace.free.iter().zip(&moved).for_each(|(&index, d)| mean[index] += part * d);
    }
    mean
}

/// The slope of ln|H| at the mode, over the free parameters.
fn slope_of_log_det(objective: &Objective<'_>, laplace: &Laplace, covariance: &DMatrix<f64>) -> DVector<f64> {
    let layout = Layout::of(objective.data);
    let mut row_of = vec![None; laplace.mode.len()];
    laplace.free.iter().enumerate().for_each(|(row, &index)| row_of[index] = Some(row));
    let is_effect = |index: usize| (layout.u(0)..layout.core_len()).contains(&index) || index >= layout.shift(0);
    let common: Vec<usize> =
        laplace.free.iter().enumerate().filter(|&(_, &index)| !is_effect(index)).map(|(row, _)| row).collect();
    let roots: Vec<DMatrix<f64>> = objective
        .data
        .units
        .iter()
        .enumerate()
        .map(|(index, unit)| root(&covariance_of(covariance, &common, &own_rows(layout, index, unit, &row_of))))
        .collect();
    let mut work = Workspace::default();
    let mut gradient = vec![0.0; laplace.mode.len()];
    objective.value_and_gradient(&laplace.mode, &mut gradient, &mut work);
    let middle = gradient.clone();
    let mut slope = DVector::zeros(laplace.free.len());
    let Some(first) = roots.first() else { return slope };
    for column in 0..common.len() + OWN {
        for step in [STEP, -STEP] {
            let mut theta = laplace.mode.clone();
            for (at, &row) in common.iter().enumerate() {
                // The same for every site-year: these rows come first.
                theta[laplace.free[row]] += step * first[(at, column)];
            }
            for (unit, root) in roots.iter().enumerate() {
                for (own, index) in [layout.shift(unit), layout.split(unit), layout.level(unit)].into_iter().enumerate()
                {
                    theta[index] += step * root[(common.len() + own, column)];
                }
            }
            objective.value_and_gradient(&theta, &mut gradient, &mut work);
            for (row, &index) in laplace.free.iter().enumerate() {
                slope[row] += (gradient[index] - middle[index]) / (STEP * STEP);
            }
        }
    }
    slope
}

/// The free parameters, as rows, whose sums are the shift, split and level of site-year `index`.
fn own_rows(layout: Layout, index: usize, unit: &Unit, row_of: &[Option<usize>]) -> [Vec<usize>; OWN] {
    let free = |list: &[usize]| list.iter().filter_map(|&parameter| row_of[parameter]).collect();
    [
        free(&[layout.u(unit.site), layout.v(unit.year), layout.shift(index)]),
        free(&[layout.split(index)]),
        free(&[layout.a(unit.site), layout.level(index)]),
    ]
}

/// Of the parameters in the rows `common`, then of a site-year's `own` sums.
fn covariance_of(covariance: &DMatrix<f64>, common: &[usize], own: &[Vec<usize>; OWN]) -> DMatrix<f64> {
    let rows = |k: usize| common.get(k..=k).unwrap_or_else(|| &own[k - common.len()]);
    let n = common.len() + OWN;
    let entry = |a: usize, b: usize| {
        rows(a).iter().flat_map(|&i| rows(b).iter().map(move |&j| (i, j))).map(|place| covariance[place]).sum()
    };
    DMatrix::from_fn(n, n, entry)
}

/// Lower triangle R with R R' = `matrix`, whose rows and columns of zeros (what is held) stay zero.
fn root(matrix: &DMatrix<f64>) -> DMatrix<f64> {
    let n = matrix.nrows();
    let mut root = DMatrix::<f64>::zeros(n, n);
    for column in 0..n {
        let left = matrix[(column, column)] - (0..column).map(|k| root[(column, k)].powi(2)).sum::<f64>();
        if left <= 1e-12 * matrix[(column, column)] {
            continue;
        }
        root[(column, column)] = left.sqrt();
        for row in column + 1..n {
            let below: f64 = (0..column).map(|k| root[(row, k)] * root[(column, k)]).sum();
            root[(row, column)] = (matrix[(row, column)] - below) / root[(column, column)];
        }
    }
    root
}
