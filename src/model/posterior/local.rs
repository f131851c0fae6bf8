//! What the records of one site-year depend on, apart from the clock: a few quantities, each a sum of
//! parameters, in which second derivatives are short.

use nalgebra::DMatrix;

use super::data::COVARIATES;

/// Shift of the curve on ln C.
pub(super) const SHIFT: usize = 0;
/// Log scale of the first part.
pub(super) const LOG_S1: usize = 1;
/// Logit share of the second part.
pub(super) const LOGIT_W: usize = 2;
/// Log distance of the second part.
pub(super) const GAP: usize = 3;
/// Log scale of the second part.
pub(super) const LOG_S2: usize = 4;
/// Level.
pub(super) const LEVEL: usize = 5;
/// Log slope of the class scale.
pub(super) const SLOPE: usize = 6;
/// First threshold, and log gaps of the others.
pub(super) const THRESHOLD: usize = 7;
/// Hour of peak, hours per degree, log spread.
pub(super) const HOUR: usize = 10;
/// Covariate effects.
pub(super) const EFFECT: usize = 13;
/// Log level of counts.
pub(super) const CATCH: usize = EFFECT + COVARIATES;
/// How much more traps catch.
pub(super) const TRAP: usize = CATCH + 1;
/// Log scale of first sightings.
pub(super) const FIRST: usize = TRAP + 1;
/// Number of quantities.
pub(super) const LOCALS: usize = FIRST + 1;

/// A quantity's first and second derivatives in the locals; of the second, row >= column.
#[derive(Debug, Clone)]
pub(super) struct Curved {
    pub(super) first: [f64; LOCALS],
    pub(super) second: [[f64; LOCALS]; LOCALS],
}

impl Default for Curved {
    fn default() -> Self {
        Self { first: [0.0; LOCALS], second: [[0.0; LOCALS]; LOCALS] }
    }
}

impl Curved {
    /// Adds `value` to the second derivative in `a` and `b`.
    pub(super) fn bend(&mut self, a: usize, b: usize, value: f64) {
        self.second[a.max(b)][a.min(b)] += value;
    }

    /// Adds a function of `inner` whose first and second derivatives are `slope` and `bend`.
    pub(super) fn add_function_of(&mut self, inner: &Curved, slope: f64, bend: f64) {
        for row in 0..LOCALS {
            self.first[row] += slope * inner.first[row];
            let across = bend * inner.first[row];
            for column in 0..=row {
                self.second[row][column] += across * inner.first[column] + slope * inner.second[row][column];
            }
        }
    }

    /// Adds the second derivatives to `hessian`, `places` holding for each local the rows of the
    /// parameters that it is a sum of, each with its factor.
    pub(super) fn scatter(&self, hessian: &mut DMatrix<f64>, places: &[Vec<(usize, f64)>; LOCALS]) {
        for (row, list) in self.second.iter().enumerate() {
            for (column, &value) in list.iter().enumerate().take(row + 1) {
                if value == 0.0 {
                    continue;
                }
                for &(r, a) in &places[row] {
                    for &(c, b) in &places[column] {
                        hessian[(r, c)] += a * b * value;
                        if row != column {
                            hessian[(c, r)] += a * b * value;
                        }
                    }
                }
            }
        }
    }
}
