//! Classes of catches by what was caught around the same day of the year, and around the same warmth, in
//! other years: a member of the class mixture without a curve.
//!
//! Half of the weight goes by days of the year, half by thermal days: the day on which the mean climate has
//! collected as many degree-days above 0 C as the season at hand. Weights are Gaussian in days
//! (Nadaraya 1964, Watson 1964; from memory), and their width is the one that scores best when years are
//! left out. A trial on weekly traps showed that half of this and half of the clocks is better than either
//! clocks or, mostly, kernel alone.

use serde::{Deserialize, Serialize};

use crate::domain::fit::ClockKind;
use crate::model::clock::{ClockRun, Drivers};
use crate::model::posterior::{Dataset, Outcome};
use crate::model::scores::rps;

use super::classes::CountClasses;

/// Weight of the kernel in published classes of catches.
pub const KERNEL_WEIGHT: f64 = 0.5;
/// Widths tried, days.
const WIDTHS_DAYS: [f64; 4] = [5.0, 8.0, 12.0, 18.0];
/// Weight of the overall frequencies, in records.
const PRIOR_RECORDS: f64 = 0.5;
/// Widths beyond which a catch has no weight.
const FAR: f64 = 7.0;
/// Nodes per width of the tabulated bell: linear between them it errs by less than 2e-6.
const NODES_PER_WIDTH: f64 = 256.0;
/// Fewest records, and fewest years, for a kernel.
const LEAST_RECORDS: usize = 30;
const LEAST_YEARS: usize = 3;

/// One catch in the kernel's terms.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Catch {
    year: usize,
    day: f64,
    thermal_day: Option<f64>,
    class: usize,
}

/// Catches of past years and the width of their weights.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ClassKernel {
    catches: Vec<Catch>,
    width_days: f64,
}

/// Degree-days above 0 C of the mean climate, by which seasons are compared.
#[derive(Debug, Clone)]
pub struct Warmth(ClockRun);

impl Warmth {
    /// Of the mean climate.
    #[must_use]
    pub fn of(climate: &Drivers) -> Self {
        Self(ClockRun::new(ClockKind::Thermal, climate, 0.0, 0.0, climate.len()))
    }

    /// Thermal day of every day of `season`, index 0 before the first; `None` where there is no warmth to go
    /// by.
    #[must_use]
    pub fn days(&self, season: &Drivers) -> Vec<Option<f64>> {
        let run = ClockRun::new(ClockKind::Thermal, season, 0.0, 0.0, season.len());
        let known = self.0.c.last().is_some_and(|c| *c > 0.0);
        let last = self.0.c.len().saturating_sub(1) as f64;
        run.c.iter().map(|&c| known.then(|| self.0.day_reaching(c).unwrap_or(last))).collect()
    }
}

impl ClassKernel {
    /// Learns from the counts of `data` that `limits` speak of; `None` with too few.
    #[must_use]
    pub fn learn(data: &Dataset, limits: &CountClasses) -> Option<Self> {
        let warmth = Warmth::of(&data.climate);
        let mut catches = Vec::new();
        for unit in &data.units {
            let thermal = warmth.days(&unit.drivers);
            for o in unit.observations.iter().filter(|o| o.protocol == limits.protocol) {
                if let Outcome::Count(count) = o.outcome {
                    let class = limits.class_of(count, o.log_effort.exp());
                    let thermal_day = thermal.get(o.to_day).copied().flatten();
                    catches.push(Catch { year: unit.year, day: o.to_day as f64, thermal_day, class });
                }
            }
        }
        let mut years: Vec<usize> = catches.iter().map(|c| c.year).collect();
        years.sort_unstable();
        years.dedup();
        if catches.len() < LEAST_RECORDS || years.len() < LEAST_YEARS {
            return None;
        }
        let of_width = |width_days: f64| Self { catches: catches.clone(), width_days };
        WIDTHS_DAYS.into_iter().map(of_width).min_by(|a, b| a.left_out_rps().total_cmp(&b.left_out_rps()))
    }

    /// Summed ranked probability score of every catch by those of other years.
    fn left_out_rps(&self) -> f64 {
        let bell = Bell::new(self.width_days);
        let one = |c: &Catch| rps(&self.weighed(&bell, c.day, c.thermal_day, Some(c.year)), c.class);
        self.catches.iter().map(one).sum()
    }

    /// Class probabilities of catches, each taken in on a day with its thermal day.
    #[must_use]
    pub fn probabilities(&self, days: impl IntoIterator<Item = (f64, Option<f64>)>) -> Vec<[f64; 4]> {
        let bell = Bell::new(self.width_days);
        days.into_iter().map(|(day, thermal_day)| self.weighed(&bell, day, thermal_day, None)).collect()
    }

    fn weighed(&self, bell: &Bell, day: f64, thermal_day: Option<f64>, without_year: Option<usize>) -> [f64; 4] {
        let near = |apart_days: f64| bell.at(apart_days);
        let (mut by_day, mut by_warmth, mut all) = ([0.0; 4], [0.0; 4], [0.0; 4]);
        for c in self.catches.iter().filter(|c| Some(c.year) != without_year) {
            by_day[c.class] += near(c.day - day);
            if let (Some(there), Some(here)) = (c.thermal_day, thermal_day) {
                by_warmth[c.class] += near(there - here);
            }
            all[c.class] += 1.0;
        }
        let total: f64 = all.iter().sum::<f64>().max(1.0);
        let shares = |weights: [f64; 4]| -> [f64; 4] {
            let sum: f64 = weights.iter().sum();
            std::array::from_fn(|k| (weights[k] + PRIOR_RECORDS * all[k] / total) / (sum + PRIOR_RECORDS))
        };
        if by_warmth.iter().sum::<f64>() > 0.0 {
            let (a, b) = (shares(by_day), shares(by_warmth));
            std::array::from_fn(|k| 0.5 * (a[k] + b[k]))
        } else {
            shares(by_day)
        }
    }
}

/// A Gaussian weight by days apart, tabulated: seasons ask for it hundreds of thousands of times.
struct Bell {
    nodes_per_day: f64,
    /// Zero at the end: beyond, thousands of catches together weigh nothing.
    nodes: Vec<f64>,
}

impl Bell {
    fn new(width_days: f64) -> Self {
        let count = (FAR * NODES_PER_WIDTH) as u32;
        let node = |k: u32| (-0.5 * (f64::from(k) / NODES_PER_WIDTH).powi(2)).exp();
        Self { nodes_per_day: NODES_PER_WIDTH / width_days, nodes: (0..count).map(node).chain([0.0]).collect() }
    }

    fn at(&self, apart_days: f64) -> f64 {
        let place = apart_days.abs() * self.nodes_per_day;
        let node = place as usize;
        match self.nodes.get(node..node + 2) {
            Some(&[low, high]) => low + (place - node as f64) * (high - low),
            _ => 0.0,
        }
    }
}

/// The mixture of what clocks and kernel say.
#[must_use]
pub fn mixed(by_clocks: [f64; 4], by_kernel: [f64; 4]) -> [f64; 4] {
    std::array::from_fn(|k| (1.0 - KERNEL_WEIGHT) * by_clocks[k] + KERNEL_WEIGHT * by_kernel[k])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kernel(width_days: f64) -> ClassKernel {
        let catches = (0..4)
            .flat_map(|year| {
                let late = 5.0 * year as f64;
                (0..20).map(move |k| {
                    let day = 100.0 + 5.0 * f64::from(k) + late;
                    let class = if (40.0..60.0).contains(&(day - 100.0 - late)) { 3 } else { 0 };
                    Catch { year, day, thermal_day: Some(day - late), class }
                })
            })
            .collect();
        ClassKernel { catches, width_days }
    }

    #[test]
    fn probabilities_follow_the_catches_around_the_day_and_sum_to_one() {
        let kernel = kernel(5.0);
        let at = |day: f64, thermal_day: Option<f64>| kernel.probabilities([(day, thermal_day)])[0];
        let (peak, early) = (at(150.0, Some(145.0)), at(105.0, Some(102.0)));
        assert!(peak[3] > 0.75 && early[3] < 0.02, "{peak:?} {early:?}");
        assert!((peak.iter().sum::<f64>() - 1.0).abs() < 1e-12);
        // By warmth the seasons lie on each other, by the day they are smeared.
        assert!(at(158.0, Some(150.0))[3] > at(158.0, None)[3]);
    }

    #[test]
    fn the_tabulated_bell_is_a_bell() {
        let bell = Bell::new(12.0);
        for k in 0..2000 {
            let apart = 0.05 * f64::from(k) - 30.0;
            let exact = if apart.abs() > FAR * 12.0 { 0.0 } else { (-0.5 * (apart / 12.0).powi(2)).exp() };
            assert!((bell.at(apart) - exact).abs() < 2e-6, "{apart}: {} and {exact}", bell.at(apart));
        }
        assert_eq!((bell.at(0.0), bell.at(1e9)), (1.0, 0.0));
    }

    #[test]
    fn a_sharp_season_asks_for_a_narrow_width() {
        assert!(kernel(5.0).left_out_rps() < kernel(18.0).left_out_rps());
    }
}
