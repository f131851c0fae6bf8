//! From counts to abundance classes, when nobody noted classes.
//!
//! The classes are tertiles of positive catch per unit of effort and interval in the records: sparse
//! up to the first tertile, moderate up to the second, heavy above. A forecast day speaks of the
//! trap emptied on that day after the usual interval with the usual effort.

use serde::{Deserialize, Serialize};
use statrs::function::beta::beta_reg;

use crate::model::posterior::{Dataset, Observation, Outcome, Protocol};

/// Class limits and the usual way of counting.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct CountClasses {
    /// Catch per effort up to which a catch is sparse, and up to which it is moderate.
    pub tertiles: [f64; 2],
    /// Days a trap usually stands; 1 for visits.
    pub usual_days: usize,
    /// Usual log effort.
    pub usual_log_effort: f64,
    /// Whose counts these are: a trap's where there is one, else those of visits.
    pub protocol: Protocol,
}

impl CountClasses {
    /// Learns the limits from `data`; `None` with fewer than three positive counts.
    #[must_use]
    pub fn learn(data: &Dataset) -> Option<Self> {
        let mut positive = Vec::new();
        let mut days = Vec::new();
        let mut efforts = Vec::new();
        let counts = || data.units.iter().flat_map(|u| &u.observations);
        let trapped = |o: &Observation| o.protocol == Protocol::Trap && matches!(o.outcome, Outcome::Count(_));
        let protocol = if counts().any(trapped) { Protocol::Trap } else { Protocol::Visit };
        for observation in counts().filter(|o| o.protocol == protocol) {
            if let Outcome::Count(count) = observation.outcome {
                if count > 0 {
                    positive.push(f64::from(count) / observation.log_effort.exp());
                }
                days.push(observation.to_day - observation.from_day);
                efforts.push(observation.log_effort);
            }
        }
        if positive.len() < 3 {
            return None;
        }
        positive.sort_by(f64::total_cmp);
        days.sort_unstable();
        efforts.sort_by(f64::total_cmp);
        let at = |part: f64| {
            let place = part * (positive.len() - 1) as f64;
            let low = place.floor() as usize;
            let high = (low + 1).min(positive.len() - 1);
            positive[low] + (place - low as f64) * (positive[high] - positive[low])
        };
        Some(Self {
            tertiles: [at(1.0 / 3.0), at(2.0 / 3.0)],
            usual_days: days[days.len() / 2].max(1),
            usual_log_effort: efforts[efforts.len() / 2],
            protocol,
        })
    }

    /// The class of a catch of `count` with `effort`.
    #[must_use]
    pub fn class_of(&self, count: u32, effort: f64) -> usize {
        let rate = f64::from(count) / effort;
        match () {
            () if count == 0 => 0,
            () if rate <= self.tertiles[0] => 1,
            () if rate <= self.tertiles[1] => 2,
            () => 3,
        }
    }

    /// Class probabilities of a catch with mean `mean` and dispersion `theta`, usual effort.
    #[must_use]
    pub fn probabilities(&self, mean: f64, theta: f64) -> [f64; 4] {
        self.probabilities_with(mean, theta, self.usual_log_effort)
    }

    /// The same with another effort.
    #[must_use]
    pub fn probabilities_with(&self, mean: f64, theta: f64, log_effort: f64) -> [f64; 4] {
        let counts = self.highest_counts(log_effort);
        let [sparse, moderate] = counts.map(|count| at_most(count, mean, theta));
        from_tails([(-theta * (mean / theta).ln_1p()).exp(), sparse, moderate])
    }

    /// The most that is sparse, and the most that is moderate, with an effort.
    pub(super) fn highest_counts(&self, log_effort: f64) -> [f64; 2] {
        let effort = log_effort.exp();
        self.tertiles.map(|tertile| (tertile * effort + 1e-9).floor())
    }
}

/// Class probabilities of a catch from those of none, of at most a sparse and of at most a moderate one.
pub(super) fn from_tails([none, sparse, moderate]: [f64; 3]) -> [f64; 4] {
    let none = none.clamp(0.0, 1.0);
    let sparse = sparse.max(none).min(1.0);
    let moderate = moderate.max(sparse).min(1.0);
    [none, sparse - none, moderate - sparse, 1.0 - moderate]
}

/// P(N <= n) of a negative binomial: the regularised incomplete beta function
/// I_p(theta, n + 1), p = theta/(theta + m) (Johnson, Kemp and Kotz; from memory, checked by sums).
pub(super) fn at_most(n: f64, mean: f64, theta: f64) -> f64 {
    let p = (theta / (theta + mean)).clamp(0.0, 1.0);
    if p >= 1.0 { 1.0 } else { beta_reg(theta, n + 1.0, p) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::likelihood::negative_binomial::count_terms;

    #[test]
    fn the_tail_function_is_the_sum_of_the_probabilities() {
        for (mean, theta) in [(0.3, 0.8), (4.0, 1.2), (60.0, 3.0), (1e-5, 2.0)] {
            let sum: f64 = (0..=5).map(|n| count_terms(n, mean, theta).log_prob.exp()).sum();
            assert!((at_most(5.0, mean, theta) - sum).abs() < 1e-10, "{mean} {theta}");
        }
    }

    #[test]
    fn probabilities_sum_to_one_and_follow_the_mean() {
        let classes = CountClasses {
            tertiles: [1.0, 6.0],
            usual_days: 7,
            usual_log_effort: 5.0_f64.ln(),
            protocol: Protocol::Trap,
        };
        let low = classes.probabilities(0.5, 1.0);
        let high = classes.probabilities(200.0, 1.0);
        assert!((low.iter().sum::<f64>() - 1.0).abs() < 1e-12 && low[0] > high[0] && high[3] > low[3]);
        assert_eq!(classes.class_of(0, 5.0), 0);
        assert_eq!(classes.class_of(5, 5.0), 1);
        assert_eq!(classes.class_of(31, 5.0), 3);
    }
}
