//! Class probabilities of catches, tabulated over the mean and the dispersion.
//!
//! The tail of a negative binomial costs more than all else that a forecast does of a day, and hundreds of
//! draws ask for it on hundreds of days. The grid holds it with its exact slope in the log mean,
//!
//! dP(N <= n)/d ln m = -p^theta (1 - p)^(n + 1)/B(theta, n + 1), p = theta/(theta + m),
//!
//! which is the derivative of the regularised incomplete beta function I_p(theta, n + 1) (NIST DLMF 8.17.1);
//! between nodes it is read by cubics: Hermite's in the log mean, Lagrange's in log theta.

use statrs::function::beta::ln_beta;

use crate::model::curve::with_strays;

use super::axis::{Axis, NOTHING, POINTS, lagrange, widen};
use super::classes::{CountClasses, at_most, from_tails};
use super::draws::DrawnSeason;

/// Nodes per logistic scale of the steepest rise, which keeps errors below 1e-4.
const NODES_PER_SCALE: f64 = 2.0;
/// Logistic scale of a rise over one standard deviation.
const SCALE_OF_SD: f64 = 0.55;
/// Step in log theta.
const THETA_STEP: f64 = 0.2;

/// P(none), P(at most sparse) and P(at most moderate), each with its slope in the log mean.
type Tails = [[f64; 2]; 3];

/// Tails over a range of means and dispersions, for catches of the usual effort.
#[derive(Debug, Clone)]
pub struct CatchGrid<'a> {
    limits: &'a CountClasses,
    log_means: Axis,
    log_thetas: Axis,
    /// Rows of one theta.
    tails: Vec<Tails>,
}

/// The tails of one dispersion.
#[derive(Debug, Clone)]
pub struct CatchRow<'a> {
    limits: &'a CountClasses,
    theta: f64,
    log_means: Axis,
    /// Empty where the dispersion lies outside the grid.
    tails: Vec<Tails>,
}

impl<'a> CatchGrid<'a> {
    /// A grid for every day of the `drawn` seasons; one without nodes, beside which all is computed, where it would
    /// have no end.
    #[must_use]
    pub fn of<'b>(limits: &'a CountClasses, drawn: impl Iterator<Item = &'b DrawnSeason>) -> Self {
        let (mut log_means, mut log_thetas) = (NOTHING, NOTHING);
        for season in drawn {
            for (share, days) in [(0.0, 1.0), (1.0, limits.usual_days as f64)] {
                let seen = with_strays(share, days);
                widen(&mut log_means, season.log_mean_catch(seen.ln(), limits.usual_log_effort, limits.protocol));
            }
            widen(&mut log_thetas, season.common.theta.ln());
        }
        let finite = [log_means.0, log_means.1, log_thetas.0, log_thetas.1].iter().all(|end| end.is_finite());
        if finite {
            Self::new(limits, log_means, log_thetas)
        } else {
            let none = Axis { from: 0.0, step: 1.0, nodes: 0 };
            Self { limits, log_means: none, log_thetas: none, tails: Vec::new() }
        }
    }

    /// Whose classes these are.
    #[must_use]
    pub fn limits(&self) -> &'a CountClasses {
        self.limits
    }

    /// A grid that holds every mean whose logarithm lies within `log_means` and every dispersion whose
    /// logarithm lies within `log_thetas`, both finite.
    #[must_use]
    pub fn new(limits: &'a CountClasses, log_means: (f64, f64), log_thetas: (f64, f64)) -> Self {
        let [sparse, moderate] = limits.highest_counts(limits.usual_log_effort);
        let counts = [0.0, sparse, moderate];
        let sd = ((-log_thetas.1).exp() + 1.0 / (moderate + 1.0)).sqrt();
        let log_means = Axis::around(log_means, SCALE_OF_SD * sd / NODES_PER_SCALE);
        let log_thetas = Axis::around(log_thetas, THETA_STEP);
        let mut tails = Vec::with_capacity(log_thetas.nodes * log_means.nodes);
        for row in 0..log_thetas.nodes {
            let theta = log_thetas.at(row).exp();
            let log_betas = counts.map(|count| ln_beta(theta, count + 1.0));
            tails.extend((0..log_means.nodes).map(|node| {
                let mean = log_means.at(node).exp();
                let (odds, against) = ((mean / theta).ln_1p(), (theta / mean).ln_1p());
                std::array::from_fn(|k| {
                    let log_slope = -theta * odds - (counts[k] + 1.0) * against - log_betas[k];
                    [at_most(counts[k], mean, theta), -log_slope.exp()]
                })
            }));
        }
        Self { limits, log_means, log_thetas, tails }
    }

    /// The tails of `theta`.
    #[must_use]
    pub fn row(&self, theta: f64) -> CatchRow<'a> {
        let mut tails = Vec::new();
        if let Some((node, along)) = self.log_thetas.place(theta.ln()) {
            let weights = lagrange(along);
            let width = self.log_means.nodes;
            // The four rows side by side, so that none is gone through twice.
            let rows: [_; POINTS] = std::array::from_fn(|k| &self.tails[(node - 1 + k) * width..][..width]);
            let [first, second, third, fourth] = rows.map(|row| row.iter());
            tails.extend(first.zip(second).zip(third).zip(fourth).map(|(((a, b), c), d)| {
                let at = |k: usize, end: usize| {
                    weights[0] * a[k][end] + weights[1] * b[k][end] + weights[2] * c[k][end] + weights[3] * d[k][end]
                };
                std::array::from_fn(|k| std::array::from_fn(|end| at(k, end)))
            }));
        }
        CatchRow { limits: self.limits, theta, log_means: self.log_means, tails }
    }
}

impl CatchRow<'_> {
    /// Class probabilities of a catch whose mean has logarithm `log_mean`.
    #[must_use]
    pub fn probabilities(&self, log_mean: f64) -> [f64; 4] {
        match self.log_means.place(log_mean) {
            Some((node, along)) if !self.tails.is_empty() => {
                let (left, right) = (&self.tails[node], &self.tails[node + 1]);
                let parts = hermite(along, self.log_means.step);
                let tail = |k: usize| {
                    parts[0] * left[k][0] + parts[1] * left[k][1] + parts[2] * right[k][0] + parts[3] * right[k][1]
                };
                from_tails([tail(0), tail(1), tail(2)])
            }
            _ => self.limits.probabilities(log_mean.exp(), self.theta),
        }
    }
}

/// Weights of a value and its slope, and of the next value and its slope `step` further, in the cubic through both.
fn hermite(along: f64, step: f64) -> [f64; 4] {
    let rest = 1.0 - along;
    let (left, right) = (rest * rest, along * along);
    [left * (1.0 + 2.0 * along), left * along * step, right * (1.0 + 2.0 * rest), -right * rest * step]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::posterior::Protocol;

    /// Worst difference between the grid and the function itself over a fine net of both arguments.
    fn worst(tertiles: [f64; 2], thetas: (f64, f64)) -> f64 {
        let limits = CountClasses { tertiles, usual_days: 7, usual_log_effort: 7.0_f64.ln(), protocol: Protocol::Trap };
        let (log_means, log_thetas) = ((-9.0, 7.0), (thetas.0.ln(), thetas.1.ln()));
        let grid = CatchGrid::new(&limits, log_means, log_thetas);
        let mut worst = 0.0_f64;
        for i in 0..=40 {
            let theta = (log_thetas.0 + (log_thetas.1 - log_thetas.0) * f64::from(i) / 40.0).exp();
            let row = grid.row(theta);
            assert!(!row.tails.is_empty(), "{theta} lies on the grid");
            for j in 0..=1000 {
                let mean = (log_means.0 + (log_means.1 - log_means.0) * f64::from(j) / 1000.0).exp();
                assert!(row.log_means.place(mean.ln()).is_some(), "{mean} lies on the grid");
                let (read, exact) = (row.probabilities(mean.ln()), limits.probabilities(mean, theta));
                (0..4).for_each(|c| worst = worst.max((read[c] - exact[c]).abs()));
            }
        }
        worst
    }

    #[test]
    fn the_grid_is_the_function() {
        for (tertiles, thetas) in [
            ([0.2, 1.0], (0.4, 1.5)),
            ([1.0, 6.0], (0.8, 0.8)),
            ([3.0, 90.0], (2.0, 9.0)),
            ([30.0, 60.0], (20.0, 60.0)),
        ] {
            let worst = worst(tertiles, thetas);
            assert!(worst < 1e-4, "{tertiles:?} {thetas:?}: {worst:.1e}");
        }
    }

    #[test]
    fn what_lies_beside_the_grid_is_computed() {
        let limits =
            CountClasses { tertiles: [1.0, 6.0], usual_days: 7, usual_log_effort: 0.0, protocol: Protocol::Trap };
        let grid = CatchGrid::new(&limits, (0.0, 1.0), (0.0, 0.1));
        for (mean, theta) in [(1e-4, 1.05), (1e4, 1.05), (2.0, 40.0)] {
            let read = grid.row(theta).probabilities(f64::ln(mean));
            assert_eq!(read, limits.probabilities(f64::exp(f64::ln(mean)), theta), "{mean} {theta}");
        }
    }
}
