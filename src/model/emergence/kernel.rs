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

use super::class_weights::{ClassWeights, FAR};
use super::classes::CountClasses;

/// Weight of the kernel in published classes of catches.
pub const KERNEL_WEIGHT: f64 = 0.5;
/// Widths tried, days.
const WIDTHS_DAYS: [f64; 4] = [5.0, 8.0, 12.0, 18.0];
/// Weight of the overall frequencies, in records.
const PRIOR_RECORDS: f64 = 0.5;
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
        if catches.len() < LEAST_RECORDS || years_of(&catches).len() < LEAST_YEARS {
            return None;
        }
        let of_width = |width_days: f64| Self { catches: catches.clone(), width_days };
        WIDTHS_DAYS.into_iter().map(of_width).min_by(|a, b| a.left_out_rps().total_cmp(&b.left_out_rps()))
    }

    /// Summed ranked probability score of every catch by those of other years.
    fn left_out_rps(&self) -> f64 {
        let of_year = |year: &usize| -> f64 {
            let others = Shares::of(self.catches.iter().filter(|c| c.year != *year), self.width_days);
            let here = self.catches.iter().filter(|c| c.year == *year);
            here.map(|c| rps(&others.around(c.day, c.thermal_day), c.class)).sum()
        };
        years_of(&self.catches).iter().map(of_year).sum()
    }

    /// Class probabilities of catches, each taken in on a day with its thermal day.
    #[must_use]
    pub fn probabilities(&self, days: impl IntoIterator<Item = (f64, Option<f64>)>) -> Vec<[f64; 4]> {
        let shares = Shares::of(self.catches.iter(), self.width_days);
        days.into_iter().map(|(day, thermal_day)| shares.around(day, thermal_day)).collect()
    }
}

/// The years in which something was caught, or nothing, in order.
fn years_of(catches: &[Catch]) -> Vec<usize> {
    let mut years: Vec<usize> = catches.iter().map(|c| c.year).collect();
    years.sort_unstable();
    years.dedup();
    years
}

/// Shares of the classes among some catches, by both reckonings of days.
struct Shares {
    by_day: ClassWeights,
    by_warmth: ClassWeights,
    /// Overall.
    frequencies: [f64; 4],
}

impl Shares {
    fn of<'a>(catches: impl Iterator<Item = &'a Catch> + Clone, width_days: f64) -> Self {
        let mut counts = [0.0; 4];
        catches.clone().for_each(|c| counts[c.class] += 1.0);
        let total = counts.iter().sum::<f64>().max(1.0);
        let warm = catches.clone().filter_map(|c| Some((c.thermal_day?, c.class)));
        Self {
            by_day: ClassWeights::of(catches.map(|c| (c.day, c.class)), width_days),
            by_warmth: ClassWeights::of(warm, width_days),
            frequencies: counts.map(|count| count / total),
        }
    }

    fn around(&self, day: f64, thermal_day: Option<f64>) -> [f64; 4] {
        let shares = |weights: [f64; 4]| -> [f64; 4] {
            let sum: f64 = weights.iter().sum();
            std::array::from_fn(|k| (weights[k] + PRIOR_RECORDS * self.frequencies[k]) / (sum + PRIOR_RECORDS))
        };
        let by_day = shares(self.by_day.at(day));
        let by_warmth = thermal_day.map_or([0.0; 4], |here| self.by_warmth.at(here));
        // Together less than one catch at the end of its reach: nothing was caught in such warmth.
        if by_warmth.iter().sum::<f64>() < (-0.5 * FAR * FAR).exp() {
            return by_day;
        }
        let by_warmth = shares(by_warmth);
        std::array::from_fn(|k| 0.5 * (by_day[k] + by_warmth[k]))
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

    /// The classes summed catch by catch.
    fn direct(kernel: &ClassKernel, day: f64, thermal_day: Option<f64>) -> [f64; 4] {
        let bell = |apart: f64| (-0.5 * (apart / kernel.width_days).powi(2)).exp();
        let mut weights = [[0.0; 4]; 2];
        let mut all = [0.0; 4];
        for c in &kernel.catches {
            weights[0][c.class] += bell(c.day - day);
            weights[1][c.class] += c.thermal_day.zip(thermal_day).map_or(0.0, |(there, here)| bell(there - here));
            all[c.class] += PRIOR_RECORDS / kernel.catches.len() as f64;
        }
        let known = if weights[1].iter().sum::<f64>() < (-0.5 * FAR * FAR).exp() { 1_u8 } else { 2 };
        let mut p = [0.0; 4];
        for weights in weights.into_iter().take(usize::from(known)) {
            let sum = weights.iter().sum::<f64>() + PRIOR_RECORDS;
            (0..4).for_each(|k| p[k] += (weights[k] + all[k]) / sum / f64::from(known));
        }
        p
    }

    #[test]
    fn the_tabulated_kernel_is_the_sum_over_catches() {
        for width_days in WIDTHS_DAYS {
            let kernel = kernel(width_days);
            for k in 0..730 {
                let day = 0.5 * f64::from(k);
                for thermal_day in [None, Some(day - 6.3)] {
                    let (read, sum) =
                        (kernel.probabilities([(day, thermal_day)])[0], direct(&kernel, day, thermal_day));
                    let off = (0..4).map(|k| (read[k] - sum[k]).abs()).fold(0.0, f64::max);
                    assert!(off < 1e-5, "{width_days} {day} {thermal_day:?}: {read:?} and {sum:?}");
                }
            }
        }
    }

    #[test]
    fn a_sharp_season_asks_for_a_narrow_width() {
        assert!(kernel(5.0).left_out_rps() < kernel(18.0).left_out_rps());
    }
}
