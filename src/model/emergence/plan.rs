//! What a visit would teach: how much narrower the season's date is expected to become when
//! somebody looks at one reach on one day.
//!
//! Of draws k with date d_k and class probabilities p_k(c) on that day, a visit that finds class c
//! leaves weights w_k proportional to p_k(c). The expected narrowing is
//! sd(d) - sum over c of P(c) sd(d | c), P(c) the mean of p_k(c): Lindley's expected gain (1956,
//! Ann. Math. Stat. 27:986-1005, from memory) with the spread in days for the entropy.

/// What a visit would teach of a date.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Worth {
    /// Expected narrowing, days.
    pub narrowing_days: f64,
    /// Sd of the date before, days.
    pub before_days: f64,
    /// Sd of the date after a visit that found each class, days.
    pub after_days: [f64; 4],
}

impl Worth {
    /// For `dates` of a visit with class probabilities `classes`, one entry per draw in both; nothing with fewer than two
    /// draws.
    #[must_use]
    pub fn of(dates: &[f64], classes: &[[f64; 4]]) -> Self {
        let n = dates.len().min(classes.len());
        if n < 2 {
            return Self::default();
        }
        let before_days = spread(dates, |_| 1.0);
        let after_days = std::array::from_fn(|class| spread(dates, |k| classes[k][class]));
        let chance = |class: usize| classes.iter().take(n).map(|p| p[class]).sum::<f64>() / n as f64;
        let worth = Self { narrowing_days: 0.0, before_days, after_days };
        Self { narrowing_days: worth.narrowing_by(std::array::from_fn(chance)).max(0.0), ..worth }
    }

    /// Mean narrowing, days, where each class is found with these probabilities.
    #[must_use]
    pub fn narrowing_by(&self, chances: [f64; 4]) -> f64 {
        self.before_days - chances.iter().zip(self.after_days).map(|(chance, after)| chance * after).sum::<f64>()
    }
}

/// Standard deviation of `dates` under weights; 0 where nothing has weight.
#[must_use]
pub fn spread(dates: &[f64], weight: impl Fn(usize) -> f64) -> f64 {
    let (mut total, mut mean) = (0.0, 0.0);
    for (k, date) in dates.iter().enumerate() {
        total += weight(k);
        mean += weight(k) * date;
    }
    if total <= 0.0 {
        return 0.0;
    }
    mean /= total;
    let variance = dates.iter().enumerate().map(|(k, d)| weight(k) * (d - mean).powi(2)).sum::<f64>() / total;
    variance.sqrt()
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_distr::{Distribution, Normal};
    use rand_pcg::Pcg64;

    use super::*;

    /// Seasons with a normal date of their middle; a visit finds something when near it.
    fn draws(rng: &mut Pcg64) -> Vec<f64> {
        let date = Normal::new(150.0, 8.0).expect("a distribution");
        (0..600).map(|_| date.sample(rng)).collect()
    }

    fn classes_on(day: f64, date: f64) -> [f64; 4] {
        // Share of the emergence of one day, a bell seven days wide, against a visit's threshold.
        let any = 1.0 / (1.0 + (-(4.0 - ((day - date) / 7.0).powi(2))).exp());
        let heavy = 1.0 / (1.0 + (-(1.0 - ((day - date) / 7.0).powi(2))).exp());
        [1.0 - any, any - any * heavy, 0.6 * any * heavy, 0.4 * any * heavy]
    }

    #[test]
    fn what_everybody_knows_teaches_nothing() {
        let dates = [140.0, 150.0, 160.0];
        assert!(Worth::of(&dates, &[[0.2, 0.5, 0.2, 0.1]; 3]).narrowing_days < 1e-12);
        let sure = [[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0]];
        let worth = Worth::of(&dates, &sure);
        assert!((worth.narrowing_days - worth.before_days).abs() < 1e-12, "{worth:?}");
        assert!(
            (worth.before_days - (200.0_f64 / 3.0).sqrt()).abs() < 1e-12 && worth.after_days[0] == 0.0,
            "{worth:?}"
        );
        // Where the finding is sure beforehand, only that finding counts.
        let mixed = [[0.9, 0.1, 0.0, 0.0], [0.5, 0.5, 0.0, 0.0], [0.1, 0.9, 0.0, 0.0]];
        let worth = Worth::of(&dates, &mixed);
        assert!((worth.narrowing_by([1.0, 0.0, 0.0, 0.0]) - (worth.before_days - worth.after_days[0])).abs() < 1e-12);
    }

    #[test]
    fn over_fifty_seasons_the_planned_day_narrows_more_than_the_fullest_and_a_random_one() {
        let mut rng = Pcg64::seed_from_u64(21);
        let (mut planned, mut fullest, mut random) = (0.0, 0.0, 0.0);
        for _ in 0..50 {
            let dates = draws(&mut rng);
            let truth = dates[rng.random_range(0..dates.len())];
            let days: Vec<f64> = (120..=180).map(f64::from).collect();
            let all = |day: f64| -> Vec<[f64; 4]> { dates.iter().map(|d| classes_on(day, *d)).collect() };
            let best = |value: &dyn Fn(f64) -> f64| {
                days.iter().copied().max_by(|a, b| value(*a).total_cmp(&value(*b))).expect("a day")
            };
            let by_plan = best(&|day| Worth::of(&dates, &all(day)).narrowing_days);
            let by_share = best(&|day| all(day).iter().map(|p| 1.0 - p[0]).sum());
            let by_chance = days[rng.random_range(0..days.len())];
            let mut realised = |day: f64| {
                let found = classes_on(day, truth);
                let (mut u, mut class) = (rng.random::<f64>(), 3);
                for (k, p) in found.iter().enumerate() {
                    if u < *p {
                        class = k;
                        break;
                    }
                    u -= p;
                }
                let after = all(day);
                spread(&dates, |_| 1.0) - spread(&dates, |k| after[k][class])
            };
            planned += realised(by_plan);
            fullest += realised(by_share);
            random += realised(by_chance);
        }
        assert!(planned > 1.2 * fullest && planned > 1.2 * random, "{planned} against {fullest} and {random}");
    }
}
