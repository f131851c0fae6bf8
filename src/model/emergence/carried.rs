//! Where a fit starts that knows another fit: its mode, and its curvature as the shape of the search.

use nalgebra::DMatrix;

use crate::model::laplace::Laplace;
use crate::model::posterior::{Dataset, Layout, Priors};

use super::fit_clock::FittedClock;

/// A point to search from.
#[derive(Debug, Clone)]
pub(super) struct Start {
    /// All parameters.
    pub(super) theta: Vec<f64>,
    /// A guess of the precision over the free parameters.
    pub(super) shape: Option<DMatrix<f64>>,
}

impl Start {
    /// From `theta`, with nothing known of the surface.
    pub(super) fn at(theta: Vec<f64>) -> Self {
        Self { theta, shape: None }
    }

    /// From the mode of `old`, made with `before`, for the same parameters under the priors `now`.
    pub(super) fn again(old: &Laplace, before: &Priors, now: &Priors) -> Self {
        let pull = |priors: &Priors, index: usize| priors.0[index].sd.powi(-2);
        let change = |index: usize| pull(now, index) - pull(before, index);
        Self { theta: old.mode.clone(), shape: Some(shape(old, now, Some, change)) }
    }

    /// From the mode of `old` for `data`, which has the same sites; `years` says which of `old`'s years
    /// each year of `data` was, and `units` lists the site-years that `old` saw. New effects start at 0.
    pub(super) fn carried(
        old: &FittedClock,
        units: &[(usize, usize)],
        years: &[Option<usize>],
        data: &Dataset,
        now: &Priors,
    ) -> Self {
        let source = sources(old.layout, Layout::of(data), units, years, data);
        let theta = source.iter().map(|from| from.map_or(0.0, |from| old.laplace.mode[from])).collect();
        // The same sds of effects: what priors add to the precision stays.
        Self { theta, shape: Some(shape(&old.laplace, now, |index| source[index], |_| 0.0)) }
    }
}

/// For each parameter of the layout `to` of `data` the one of `from` that it continues.
fn sources(
    from: Layout,
    to: Layout,
    units: &[(usize, usize)],
    years: &[Option<usize>],
    data: &Dataset,
) -> Vec<Option<usize>> {
    let mut source = vec![None; to.len()];
    (0..to.v(0)).for_each(|index| source[index] = Some(index));
    for (new, old) in years.iter().enumerate() {
        source[to.v(new)] = old.map(|old| from.v(old));
    }
    let levels_and_extras = (to.a(0)..to.shift(0)).zip(from.a(0)..from.shift(0));
    levels_and_extras.for_each(|(new, old)| source[new] = Some(old));
    for (new, unit) in data.units.iter().enumerate() {
        let known = years[unit.year].and_then(|year| units.iter().position(|u| *u == (unit.site, year)));
        if let Some(old) = known {
            source[to.shift(new)] = Some(from.shift(old));
            source[to.split(new)] = Some(from.split(old));
            source[to.level(new)] = Some(from.level(old));
        }
    }
    source
}

/// The precision of `old` over the parameters free under `now`, each changed on the diagonal by
/// `change`; what `old` did not know has its prior's alone.
fn shape(
    old: &Laplace,
    now: &Priors,
    source: impl Fn(usize) -> Option<usize>,
    change: impl Fn(usize) -> f64,
) -> DMatrix<f64> {
    let l = old.precision.l();
    let known = &l * l.transpose();
    let free = now.free();
    let rows: Vec<Option<usize>> =
        free.iter().map(|&index| source(index).and_then(|from| old.free.iter().position(|&f| f == from))).collect();
    DMatrix::from_fn(free.len(), free.len(), |row, column| match (rows[row], rows[column]) {
        (Some(a), Some(b)) if row == column => known[(a, b)] + change(free[row]),
        (Some(a), Some(b)) => known[(a, b)],
        (None, None) if row == column => now.0[free[row]].sd.powi(-2),
        _ => 0.0,
    })
}
