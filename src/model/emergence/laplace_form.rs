//! A posterior's mode and curvature as they are stored.

use nalgebra::{Cholesky, DMatrix};
use serde::{Deserialize, Serialize};

use crate::model::laplace::Laplace;

/// [`Laplace`] as numbers; the precision's factor as its lower triangle, row by row.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct LaplaceForm {
    mode: Vec<f64>,
    value: f64,
    log_evidence: f64,
    free: Vec<usize>,
    lower: Vec<f64>,
}

impl From<&Laplace> for LaplaceForm {
    fn from(laplace: &Laplace) -> Self {
        let factor = laplace.precision.l_dirty();
        Self {
            mode: laplace.mode.clone(),
            value: laplace.value,
            log_evidence: laplace.log_evidence,
            free: laplace.free.clone(),
            lower: (0..laplace.free.len()).flat_map(|row| (0..=row).map(move |column| factor[(row, column)])).collect(),
        }
    }
}

impl LaplaceForm {
    /// The posterior again; `None` when the numbers do not hold together.
    pub(super) fn into_laplace(self) -> Option<Laplace> {
        let n = self.free.len();
        if self.lower.len() != n * (n + 1) / 2 || self.free.iter().any(|&i| i >= self.mode.len()) {
            return None;
        }
        let mut factor = DMatrix::zeros(n, n);
        let mut values = self.lower.into_iter();
        for row in 0..n {
            for column in 0..=row {
                factor[(row, column)] = values.next()?;
            }
        }
        Some(Laplace {
            mode: self.mode,
            value: self.value,
            free: self.free,
            precision: Cholesky::pack_dirty(factor),
            log_evidence: self.log_evidence,
            evaluations: 0,
        })
    }
}
