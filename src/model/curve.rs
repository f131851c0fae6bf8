//! The emergence curve: share of the season's emergence completed, as a function of the clock.
//!
//! F(C) = (1 - w) L((ln C - ell1)/s1) + w L((ln C - ell2)/s2), L the logistic function, F(0) = 0.
//! With w = 0 it is the log-logistic curve. The day's share never falls to zero: strays occur, so
//! q~ = (1 - eps) q + eps/365 per day.

use crate::model::clock::expit;

/// Share of emergence spread evenly over the year, so that a stray is unlikely, not impossible.
pub const STRAY_SHARE: f64 = 0.002;
/// Logits beyond which a share is nothing or all, to 1e-16.
const FAR: f64 = 37.0;
/// A share that forecasts do without: one part in fifty of a day's strays.
pub const LITTLE: f64 = 1e-7;
/// Logit of [`LITTLE`].
const FAR_FROM_SEASON: f64 = 16.2;
/// Days over which [`STRAY_SHARE`] is spread.
pub const STRAY_DAYS: f64 = 365.0;

/// A curve of one or two log-logistic parts on ln C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// Share of the second part, 0 for a curve of one part.
    pub w: f64,
    /// Log clock value at which each part is half done.
    pub ell: [f64; 2],
    /// Scale of each part on ln C; infinite where there is no second part.
    pub s: [f64; 2],
}

/// A share and its derivatives in the curve's parameters and in both clock readings.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ShareTerms {
    /// The share.
    pub value: f64,
    /// d/d ell of each part.
    pub d_ell: [f64; 2],
    /// d/d s of each part.
    pub d_s: [f64; 2],
    /// d/d w; 0 where there is no second part.
    pub d_w: f64,
    /// d/d C at the start of the interval.
    pub d_c0: f64,
    /// d/d C at the end of the interval.
    pub d_c1: f64,
}

impl Curve {
    /// A curve of one part.
    #[must_use]
    pub fn single(ell: f64, s: f64) -> Self {
        Self { w: 0.0, ell: [ell, ell], s: [s, f64::INFINITY] }
    }

    /// F(C).
    #[must_use]
    pub fn completed(&self, c: f64) -> f64 {
        if c <= 0.0 {
            return 0.0;
        }
        let log_c = c.ln();
        let part = |k: usize| {
            let z = (log_c - self.ell[k]) / self.s[k];
            // Beyond, nothing or all is done to within double precision.
            if z.abs() > FAR { f64::from(u8::from(z > 0.0)) } else { expit(z) }
        };
        if self.w == 0.0 { part(0) } else { (1.0 - self.w) * part(0) + self.w * part(1) }
    }

    /// F of each of `sums`, which never fall, to within [`LITTLE`]: nothing is worked out long before the
    /// season and long after.
    #[must_use]
    pub fn completed_each(&self, sums: &[f64]) -> Vec<f64> {
        let begins = self.bounds(-1.0).fold(f64::INFINITY, f64::min);
        let ends = self.over();
        let (first, last) = (sums.partition_point(|c| *c < begins), sums.partition_point(|c| *c <= ends));
        let mut completed = vec![0.0; sums.len()];
        for (to, &c) in completed[first..last].iter_mut().zip(&sums[first..last]) {
            *to = self.completed(c);
        }
        completed[last..].fill(1.0);
        completed
    }

    /// The clock reading past which the season is over, to within [`LITTLE`].
    #[must_use]
    pub fn over(&self) -> f64 {
        self.bounds(1.0).fold(0.0, f64::max)
    }

    /// Clock readings far to one `side` of the middle of each part: -1 or 1.
    fn bounds(&self, side: f64) -> impl Iterator<Item = f64> {
        let parts = if self.w == 0.0 { 1 } else { 2 };
        (0..parts).map(move |k| (self.ell[k] + side * self.s[k] * FAR_FROM_SEASON).exp())
    }

    /// Share emerging between clock readings `c0` and `c1`, with every derivative.
    #[must_use]
    pub fn share_between(&self, c0: f64, c1: f64) -> ShareTerms {
        let mut terms = ShareTerms::default();
        self.add_end(&mut terms, c1, 1.0);
        self.add_end(&mut terms, c0, -1.0);
        terms
    }

    fn add_end(&self, terms: &mut ShareTerms, c: f64, sign: f64) {
        if c <= 0.0 {
            return;
        }
        let log_c = c.ln();
        let weights = [1.0 - self.w, self.w];
        let mut slope = 0.0;
        let mut f = [0.0; 2];
        let parts = if self.s[1].is_finite() { 2 } else { 1 };
        for k in 0..parts {
            let z = (log_c - self.ell[k]) / self.s[k];
            f[k] = expit(z);
            // Density in z, times the part's weight.
            let g = weights[k] * f[k] * (1.0 - f[k]);
            terms.d_ell[k] -= sign * g / self.s[k];
            terms.d_s[k] -= sign * g * z / self.s[k];
            slope += g / self.s[k];
        }
        terms.value += sign * (weights[0] * f[0] + weights[1] * f[1]);
        if parts == 2 {
            terms.d_w += sign * (f[1] - f[0]);
        }
        let d_c = sign * slope / c;
        if sign > 0.0 {
            terms.d_c1 = d_c;
        } else {
            terms.d_c0 = d_c;
        }
    }
}

/// Number of the variables of [`ShareCurvature`].
pub const SHARE_VARIABLES: usize = 5;

/// First and second derivatives of a share in what searches move: the shift of both centres, log s1, the
/// logit of w, the log distance of the centres, log s2, in this order. Those of a missing second part
/// are zero.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ShareCurvature {
    /// The share.
    pub value: f64,
    /// First derivatives.
    pub first: [f64; SHARE_VARIABLES],
    /// Second derivatives, row >= column.
    pub second: [[f64; SHARE_VARIABLES]; SHARE_VARIABLES],
}

const SHIFT: usize = 0;
const LOG_S: [usize; 2] = [1, 4];
const LOGIT: usize = 2;
const LOG_GAP: usize = 3;

impl Curve {
    /// Share emerging between clock readings `c0` and `c1`, curved.
    #[must_use]
    pub fn curvature_between(&self, c0: f64, c1: f64) -> ShareCurvature {
        let mut found = ShareCurvature::default();
        for (sign, c) in [(1.0, c1), (-1.0, c0)] {
            if c > 0.0 {
                self.add_curved(&mut found, c.ln(), sign);
            }
        }
        found
    }

    fn add_curved(&self, found: &mut ShareCurvature, log_c: f64, sign: f64) {
        let parts = if self.s[1].is_finite() { 2 } else { 1 };
        let slant = self.w * (1.0 - self.w);
        let weights = [1.0 - self.w, self.w];
        for part in 0..parts {
            let s = self.s[part];
            let z = (log_c - self.ell[part]) / s;
            let f = expit(z);
            let d = f * (1.0 - f);
            let bend = sign * weights[part] * d * (1.0 - 2.0 * f);
            let rise = sign * weights[part] * d;
            let far = if part == 0 { 0.0 } else { -(self.ell[1] - self.ell[0]) / s };
            let scale = LOG_S[part];
            found.value += sign * weights[part] * f;
            // z in the shift, log s and log distance.
            let z_in = [(SHIFT, -1.0 / s), (LOG_GAP, far), (scale, -z)];
            for (row, z_row) in z_in {
                found.first[row] += rise * z_row;
                for (column, z_column) in z_in.into_iter().filter(|(column, _)| *column <= row) {
                    found.second[row][column] += bend * z_row * z_column;
                }
            }
            found.second[scale][SHIFT] += rise / s;
            found.second[scale][scale] += rise * z;
            found.second[LOG_GAP][LOG_GAP] += rise * far;
            found.second[scale.max(LOG_GAP)][scale.min(LOG_GAP)] -= rise * far;
            if parts == 2 {
                let turn = if part == 0 { -sign * slant } else { sign * slant };
                found.first[LOGIT] += turn * f;
                found.second[LOGIT][LOGIT] += turn * (1.0 - 2.0 * self.w) * f;
                for (other, z_other) in z_in {
                    found.second[LOGIT.max(other)][LOGIT.min(other)] += turn * d * z_other;
                }
            }
        }
    }
}

/// The share with strays over `days` days: (1 - eps) Q + eps days/365.
#[must_use]
pub fn with_strays(share: f64, days: f64) -> f64 {
    (1.0 - STRAY_SHARE) * share.max(0.0) + STRAY_SHARE * days / STRAY_DAYS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_whole_season_is_that_of_every_day() {
        let sums: Vec<f64> = (0..=365).map(|day| (0.02 * f64::from(day)).powi(4)).collect();
        let two = Curve { w: 0.3, ell: [5.0, 6.5], s: [0.1, 0.05] };
        for curve in [Curve::single(5.5, 0.08), Curve::single(5.5, 1.5), two] {
            let season = curve.completed_each(&sums);
            assert_eq!(season.len(), sums.len());
            for (day, &c) in sums.iter().enumerate() {
                assert!((season[day] - curve.completed(c)).abs() < LITTLE, "{curve:?} {day}");
            }
            assert!(season.windows(2).all(|pair| pair[0] <= pair[1]), "{curve:?} never falls");
        }
        assert!(two.completed_each(&[]).is_empty());
    }
}
