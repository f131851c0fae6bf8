//! How far waters differ at equal heat, and where a taxon's middle day lies on one of them.
//!
//! What fits of several waters tell of a taxon, read on the usual year of one of them, is a day and its error. A day of
//! taxon t on water w is taken to be
//!
//! d_tw = m_t + u_w + e_tw + error,
//!
//! with u common to all taxa of a water (a gauge that stands in warmer water than the insects live in, a population
//! adapted to its river) and e its own for each taxon. The sds of u and e are estimated from all taxa that two waters or
//! more tell of: the restricted likelihood (Patterson and Thompson 1971, Biometrika 58:545-554) plus a half-normal log
//! prior, highest on the scale of ln sd, as for the effects within a watershed. A day is then foretold by generalised
//! least squares and the best linear predictor (Henderson 1975, Biometrics 31:423-447; both from memory).

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use crate::model::optimise::{Stop, lbfgs};

/// Scales of the half-normal priors of both sds, days: two waters then lie 5 days apart (no source).
const SCALE_DAYS: f64 = 2.5;
/// No sd is estimated outside these parts of its prior scale.
const BOUNDS: (f64, f64) = (0.03, 4.0);
const STOP: Stop = Stop { max_evaluations: 100, gradient: 1e-6 };

/// What a fit of one water tells of the middle day of a taxon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Middle {
    /// The taxon and brood, by any number.
    pub taxon: usize,
    /// The water, by any number.
    pub water: usize,
    /// The day of the season.
    pub day: f64,
    /// Its error as far as the fit tells, days; above 0.
    pub sd_days: f64,
}

/// How far watersheds differ at equal heat, as sds in days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WatershedSds {
    /// Of a water, in all its taxa alike.
    pub common_days: f64,
    /// Of one taxon on a water.
    pub own_days: f64,
}

impl WatershedSds {
    /// Estimates from `middles`; those of a taxon that one water alone tells of say nothing. Without any other, what is
    /// taken before records speak.
    #[must_use]
    pub fn estimate(middles: &[Middle]) -> Self {
        let several = |one: &&Middle| middles.iter().any(|m| m.taxon == one.taxon && m.water != one.water);
        let telling: Vec<Middle> = middles.iter().filter(several).copied().collect();
        let before = Self { common_days: SCALE_DAYS, own_days: SCALE_DAYS };
        if telling.is_empty() {
            return before;
        }
        let bound = |ln_sd: f64| ln_sd.exp().clamp(BOUNDS.0 * SCALE_DAYS, BOUNDS.1 * SCALE_DAYS);
        let of = |x: &[f64]| Self { common_days: bound(x[0]), own_days: bound(x[1]) };
        let start = vec![SCALE_DAYS.ln(); 2];
        let found = lbfgs(start, STOP, |x, gradient| {
            let sds = of(x);
            let Some(gls) = Gls::new(&telling, sds) else { return f64::INFINITY };
            let slopes = gls.restricted_slopes();
            let list = [sds.common_days, sds.own_days];
            let mut log_prior = 0.0;
            for k in 0..2 {
                let (sd, ratio) = (list[k], (list[k] / SCALE_DAYS).powi(2));
                log_prior += sd.ln() - 0.5 * ratio;
                // Of the likelihood per variance, turned into one per ln sd.
                gradient[k] = -(slopes[k] * 2.0 * sd * sd + 1.0 - ratio);
            }
            -(gls.restricted_log_likelihood() + log_prior)
        });
        if found.value.is_finite() { of(&found.x) } else { before }
    }

    /// Day and sd of `taxon` on `water`, foretold from what `middles` tell of it elsewhere and of all taxa of that
    /// water; `None` where they tell nothing of the taxon.
    #[must_use]
    pub fn expected(self, middles: &[Middle], taxon: usize, water: usize) -> Option<(f64, f64)> {
        if !middles.iter().any(|m| m.taxon == taxon) {
            return None;
        }
        let gls = Gls::new(middles, self)?;
        let column = gls.taxa.iter().position(|t| *t == taxon)?;
        let common = self.common_days.powi(2);
        let shared = |m: &Middle| {
            let same = m.water == water;
            f64::from(u8::from(same)) * (common + if m.taxon == taxon { self.own_days.powi(2) } else { 0.0 })
        };
        let covariance = DVector::from_iterator(middles.len(), middles.iter().map(shared));
        let pull = gls.variance.solve(&covariance);
        let residual = &gls.days - &gls.design * &gls.means;
        let day = gls.means[column] + pull.dot(&residual);
        // What the mean of the taxon and the pull towards the water's others leave uncertain.
        let mut left = -(gls.design.transpose() * &pull);
        left[column] += 1.0;
        let variance = common + self.own_days.powi(2) - covariance.dot(&pull) + left.dot(&gls.information.solve(&left));
        Some((day, variance.max(0.0).sqrt()))
    }
}

/// Generalised least squares of the taxa's means.
struct Gls {
    taxa: Vec<usize>,
    same_water: DMatrix<f64>,
    days: DVector<f64>,
    design: DMatrix<f64>,
    variance: Cholesky<f64, Dyn>,
    information: Cholesky<f64, Dyn>,
    means: DVector<f64>,
}

impl Gls {
    fn new(middles: &[Middle], sds: WatershedSds) -> Option<Self> {
        let n = middles.len();
        let mut taxa: Vec<usize> = middles.iter().map(|m| m.taxon).collect();
        taxa.sort_unstable();
        taxa.dedup();
        let same = |test: bool| f64::from(u8::from(test));
        let same_water = DMatrix::from_fn(n, n, |i, j| same(middles[i].water == middles[j].water));
        let design = DMatrix::from_fn(n, taxa.len(), |i, t| same(middles[i].taxon == taxa[t]));
        let days = DVector::from_iterator(n, middles.iter().map(|m| m.day));
        let own = DVector::from_iterator(n, middles.iter().map(|m| m.sd_days.powi(2) + sds.own_days.powi(2)));
        let variance = Cholesky::new(&same_water * sds.common_days.powi(2) + DMatrix::from_diagonal(&own))?;
        let weighed = variance.solve(&design);
        let information = Cholesky::new(design.transpose() * &weighed)?;
        let means = information.solve(&(weighed.transpose() * &days));
        Some(Self { taxa, same_water, days, design, variance, information, means })
    }

    /// Up to a constant.
    fn restricted_log_likelihood(&self) -> f64 {
        let residual = &self.days - &self.design * &self.means;
        let squares = residual.dot(&self.variance.solve(&residual));
        -0.5 * (self.variance.ln_determinant() + self.information.ln_determinant() + squares)
    }

    /// Slopes of the restricted log likelihood in the variances common to a water and own to a taxon:
    /// (y'P K P y - tr P K)/2 with P = V^-1 - V^-1 X (X' V^-1 X)^-1 X' V^-1.
    fn restricted_slopes(&self) -> [f64; 2] {
        let inverse = self.variance.inverse();
        let weighed = &inverse * &self.design;
        let projected = &inverse - &weighed * self.information.solve(&weighed.transpose());
        let pulled = &projected * &self.days;
        let common = pulled.dot(&(&self.same_water * &pulled)) - projected.component_mul(&self.same_water).sum();
        let own = pulled.norm_squared() - projected.trace();
        [0.5 * common, 0.5 * own]
    }
}

#[cfg(test)]
mod tests {
    use rand_distr::{Distribution, Normal};
    use rand_pcg::Pcg64;
    use rand_pcg::rand_core::SeedableRng;

    use super::*;

    /// Every taxon on every water, drawn with these sds and an error of `sd_days`.
    fn drawn(seed: u64, (taxa, waters): (usize, usize), sds: WatershedSds, sd_days: f64) -> (Vec<Middle>, Vec<f64>) {
        let mut rng = Pcg64::seed_from_u64(seed);
        let mut normal = |sd: f64| Normal::new(0.0, sd).unwrap().sample(&mut rng);
        let shifts: Vec<f64> = (0..waters).map(|_| normal(sds.common_days)).collect();
        let mut middles = Vec::new();
        let mut truth = Vec::new();
        for taxon in 0..taxa {
            for (water, shift) in shifts.iter().enumerate() {
                let day = 130.0 + 3.0 * taxon as f64 + shift + normal(sds.own_days);
                truth.push(day);
                middles.push(Middle { taxon, water, day: day + normal(sd_days), sd_days });
            }
        }
        (middles, truth)
    }

    #[test]
    fn slopes_are_those_of_the_likelihood() {
        let truth = WatershedSds { common_days: 4.0, own_days: 2.0 };
        let (middles, _) = drawn(3, (6, 4), truth, 1.5);
        let at = |common: f64, own: f64| {
            Gls::new(&middles, WatershedSds { common_days: common.sqrt(), own_days: own.sqrt() }).unwrap()
        };
        let slopes = at(9.0, 5.0).restricted_slopes();
        let difference =
            |up: Gls, down: Gls| (up.restricted_log_likelihood() - down.restricted_log_likelihood()) / 2e-4;
        let by_hand = [
            difference(at(9.0 + 1e-4, 5.0), at(9.0 - 1e-4, 5.0)),
            difference(at(9.0, 5.0 + 1e-4), at(9.0, 5.0 - 1e-4)),
        ];
        for (slope, other) in slopes.iter().zip(by_hand) {
            assert!((slope - other).abs() < 1e-7, "{slopes:?} {by_hand:?}");
        }
    }

    #[test]
    fn sds_and_a_day_are_those_of_another_computation() {
        let on = |taxon, water, day, sd_days| Middle { taxon, water, day, sd_days };
        let middles = [
            on(0, 0, 131.0, 1.0),
            on(0, 1, 126.5, 2.0),
            on(0, 2, 138.0, 1.5),
            on(1, 0, 150.0, 1.0),
            on(1, 2, 158.5, 2.5),
            on(2, 1, 164.0, 1.2),
            on(2, 0, 171.0, 0.8),
            on(3, 1, 180.0, 1.0),
            on(3, 2, 187.0, 3.0),
            on(4, 1, 120.0, 2.0),
        ];
        // scipy 1.17.1: the density of the error contrasts and Nelder-Mead; the day by a joint normal in which the taxa's
        // means have sd 3000 d.
        let sds = WatershedSds::estimate(&middles);
        assert!((sds.common_days - 3.769_654_9).abs() < 1e-4, "{sds:?}");
        assert!((sds.own_days - 1.935_527_5).abs() < 1e-4, "{sds:?}");
        let (day, sd) = sds.expected(&middles, 4, 2).unwrap();
        assert!((day - 129.162_315).abs() < 1e-3 && (sd - 4.036_29).abs() < 1e-3, "{day} {sd}");
    }

    #[test]
    fn sds_planted_are_found_and_the_prior_stands_without_evidence() {
        let planted = WatershedSds { common_days: 5.0, own_days: 1.5 };
        let mut logs = [0.0, 0.0];
        for seed in 0..20 {
            let found = WatershedSds::estimate(&drawn(seed, (12, 8), planted, 1.0).0);
            logs[0] += (found.common_days / planted.common_days).ln() / 20.0;
            logs[1] += (found.own_days / planted.own_days).ln() / 20.0;
        }
        // The half-normal prior draws the larger in.
        assert!((-0.3..0.1).contains(&logs[0]) && logs[1].abs() < 0.1, "{logs:?}");
        let before = WatershedSds { common_days: SCALE_DAYS, own_days: SCALE_DAYS };
        let (middles, _) = drawn(1, (5, 1), planted, 1.0);
        assert_eq!(WatershedSds::estimate(&middles), before);
        assert_eq!(WatershedSds::estimate(&[]), before);
    }

    #[test]
    fn one_neighbour_alone_gives_its_day_and_two_waters_error() {
        let sds = WatershedSds { common_days: 3.0, own_days: 4.0 };
        let middles = [Middle { taxon: 7, water: 1, day: 140.0, sd_days: 2.0 }];
        let (day, sd) = sds.expected(&middles, 7, 0).unwrap();
        assert!((day - 140.0).abs() < 1e-9 && (sd - (4.0_f64 + 2.0 * 25.0).sqrt()).abs() < 1e-9, "{day} {sd}");
        assert_eq!(sds.expected(&middles, 8, 0), None);
    }

    #[test]
    fn other_taxa_tell_that_a_water_is_late() {
        let sds = WatershedSds { common_days: 5.0, own_days: 1.0 };
        let on = |taxon, water, day| Middle { taxon, water, day, sd_days: 1.0 };
        let mut middles = vec![on(0, 1, 140.0)];
        let alone = sds.expected(&middles, 0, 0).unwrap();
        for taxon in 1..8 {
            let day = 120.0 + 5.0 * taxon as f64;
            middles.extend([on(taxon, 1, day), on(taxon, 0, day + 8.0)]);
        }
        let with = sds.expected(&middles, 0, 0).unwrap();
        assert!(with.0 > 146.0 && with.0 < 148.5 && with.1 < 0.5 * alone.1, "{alone:?} {with:?}");
    }

    #[test]
    fn eight_of_ten_days_foretold_lie_within_their_interval() {
        let planted = WatershedSds { common_days: 4.0, own_days: 2.0 };
        let (mut inside, mut cases) = (0, 0);
        for seed in 0..60 {
            let (mut middles, truth) = drawn(seed, (6, 4), planted, 1.5);
            // Taxon 0 has no records on water 0.
            middles.remove(0);
            let sds = WatershedSds::estimate(&middles);
            let (day, sd) = sds.expected(&middles, 0, 0).unwrap();
            inside += usize::from((day - truth[0]).abs() < 1.2816 * sd);
            cases += 1;
        }
        let share = f64::from(inside as u32) / f64::from(cases);
        assert!((0.68..0.92).contains(&share), "{share}");
    }
}
