//! How much catches of each class weigh around any day, tabulated.
//!
//! A forecast asks on hundreds of days for the weights of thousands of catches. Weights are Gaussian in days apart, so
//! that a cubic through nodes a tenth of a width apart is theirs to 3e-5 of a catch: catches are laid on such
//! nodes once, each shared among four, and the nodes weighed by each other. The work no longer grows with catches
//! times days.

use super::axis::{Axis, NOTHING, lagrange, widen};

/// Widths beyond which a catch has no weight.
pub(super) const FAR: f64 = 7.0;
/// Nodes per width.
const NODES_PER_WIDTH: u32 = 10;
/// Nodes over which a catch is felt: a width more than [`FAR`], so that no cubic is read across the cut.
const REACH: u32 = (FAR as u32 + 1) * NODES_PER_WIDTH;

/// Summed weights of catches by class, as a function of the day.
#[derive(Debug)]
pub(super) struct ClassWeights {
    days: Axis,
    /// Empty without catches.
    nodes: Vec<[f64; 4]>,
}

impl ClassWeights {
    /// Of `catches`, each a day and a class, with weights of standard deviation `width_days`.
    pub(super) fn of(catches: impl Iterator<Item = (f64, usize)> + Clone, width_days: f64) -> Self {
        let step = width_days / f64::from(NODES_PER_WIDTH);
        let mut range = NOTHING;
        catches.clone().for_each(|(day, _)| widen(&mut range, day));
        if range.0 > range.1 {
            return Self { days: Axis { from: 0.0, step, nodes: 0 }, nodes: Vec::new() };
        }
        let caught = Axis::around(range, step);
        let mut laid = vec![[0.0; 4]; caught.nodes];
        for (day, class) in catches {
            let Some((node, along)) = caught.place(day) else { continue };
            for (part, to) in lagrange(along).iter().zip(&mut laid[node - 1..]) {
                to[class] += part;
            }
        }
        let bell: Vec<f64> = (0..=2 * REACH)
            .map(|k| (-0.5 * ((f64::from(k) - f64::from(REACH)) / f64::from(NODES_PER_WIDTH)).powi(2)).exp())
            .collect();
        let days = caught.longer(REACH as usize);
        let mut nodes = vec![[0.0; 4]; days.nodes];
        for (first, from) in laid.iter().enumerate().filter(|(_, from)| **from != [0.0; 4]) {
            for (to, weight) in nodes[first..].iter_mut().zip(&bell) {
                for (to, from) in to.iter_mut().zip(from) {
                    *to += weight * from;
                }
            }
        }
        Self { days, nodes }
    }

    /// Weights around `day`; zero far from all catches.
    pub(super) fn at(&self, day: f64) -> [f64; 4] {
        let mut sums = [0.0; 4];
        if let Some((node, along)) = self.days.place(day) {
            for (part, from) in lagrange(along).iter().zip(&self.nodes[node - 1..]) {
                for (sum, from) in sums.iter_mut().zip(from) {
                    *sum += part * from;
                }
            }
        }
        // A cubic may pass just below what is nothing.
        sums.map(|sum| sum.max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Catches in irregular places, some of them alone, of every class.
    fn catches() -> Vec<(f64, usize)> {
        (0..300_u32)
            .map(|k| (40.0 + 260.0 * (0.618_034 * f64::from(k)).fract().powi(2), (k % 7 % 4) as usize))
            .collect()
    }

    #[test]
    fn the_table_is_the_sum_over_catches() {
        for few in [1, 2, 300] {
            let catches: Vec<_> = catches().into_iter().take(few).collect();
            for width_days in [5.0, 8.0, 12.0, 18.0] {
                let table = ClassWeights::of(catches.iter().copied(), width_days);
                for k in 0..4000 {
                    let here = 0.1 * f64::from(k) - 20.0;
                    let mut direct = [0.0; 4];
                    for (day, class) in &catches {
                        direct[*class] += (-0.5 * ((day - here) / width_days).powi(2)).exp();
                    }
                    let read = table.at(here);
                    let sum: f64 = direct.iter().sum();
                    for class in 0..4 {
                        let off = (read[class] - direct[class]).abs();
                        assert!(off < 3e-5 * sum.max(1.0), "{few} {width_days} {here}: {read:?} and {direct:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn without_catches_nothing_weighs() {
        assert_eq!(ClassWeights::of(std::iter::empty(), 5.0).at(100.0), [0.0; 4]);
        let one = ClassWeights::of([(100.0, 2)].into_iter(), 5.0);
        assert_eq!((one.at(-1e9), one.at(1e9), one.at(f64::NAN)), ([0.0; 4], [0.0; 4], [0.0; 4]));
    }
}
