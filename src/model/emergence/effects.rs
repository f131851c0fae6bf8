//! How far sites, years and site-years differ: the sds of the effects, per clock.
//!
//! Each sd has a half-normal prior (scale h in days, turned into the clock's log scale; levels on the
//! log scale of counts), and the sds are set where the log evidence plus their log prior, on the scale
//! of ln s, is highest: sum of ln s - s^2/(2 h^2) over the kinds. The slope of the evidence in ln s is
//! -n + (M + V)/s^2 - d log|H|/2, M and V the sums of squared modes and posterior variances of the n
//! effects. The last term comes from the mode, which moves with s: without it (plain EM) the curve grows
//! ever narrower while site-years grow apart, for a narrow curve moved to where insects were seen
//! is always likely. Steps solve the slope for s with n - V/s^2 held, as in MacKay 1992, Neural
//! Computation 4:415-447 (from memory); `fit_clock` shortens or lengthens them.

use nalgebra::DVector;
use serde::{Deserialize, Serialize};

use crate::model::laplace::Laplace;
use crate::model::posterior::{Dataset, Layout, Objective};

/// Sds of the effects. Shifts on ln C; split on the logit scale; levels on the log scale.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct EffectSds {
    /// Of sites, on the curve.
    pub site_shift: f64,
    /// Of years, on the curve.
    pub year_shift: f64,
    /// Of site-years, on the curve.
    pub unit_shift: f64,
    /// Of site-years, on the share of the second part.
    pub unit_split: f64,
    /// Of sites, on the level.
    pub site_level: f64,
    /// Of site-years, on the level.
    pub unit_level: f64,
}

/// Scales of the half-normal priors in days (shifts) or as they are (split, levels).
const SITE_SHIFT_DAYS: f64 = 2.5;
const TIME_SHIFT_DAYS: f64 = 12.0;
const SPLIT: f64 = 1.5;
const LEVEL: f64 = 1.0;
/// No sd is estimated outside these parts of its prior scale.
const BOUNDS: (f64, f64) = (0.03, 4.0);
/// Largest change of an sd in one step, on the log scale.
const LONGEST_STEP: f64 = 1.0;

impl EffectSds {
    /// The scales of the half-normal priors on a clock whose ln Cref rises by `slope` a day.
    #[must_use]
    pub fn scales(slope: f64) -> Self {
        Self {
            site_shift: SITE_SHIFT_DAYS * slope,
            year_shift: TIME_SHIFT_DAYS * slope,
            unit_shift: TIME_SHIFT_DAYS * slope,
            unit_split: SPLIT,
            site_level: LEVEL,
            unit_level: LEVEL,
        }
    }

    /// Where estimation starts: years and site-years close together, since wide effects invite false
    /// modes, in which every site-year goes its own way.
    #[must_use]
    pub fn start(slope: f64) -> Self {
        let s = Self::scales(slope);
        Self {
            site_shift: 0.5 * s.site_shift,
            year_shift: 0.2 * s.year_shift,
            unit_shift: 0.15 * s.unit_shift,
            unit_split: 0.5 * s.unit_split,
            site_level: 0.5 * s.site_level,
            unit_level: 0.5 * s.unit_level,
        }
    }

    fn as_array(self) -> [f64; KINDS] {
        [self.site_shift, self.year_shift, self.unit_shift, self.unit_split, self.site_level, self.unit_level]
    }

    fn from_array(sds: [f64; KINDS]) -> Self {
        let [site_shift, year_shift, unit_shift, unit_split, site_level, unit_level] = sds;
        Self { site_shift, year_shift, unit_shift, unit_split, site_level, unit_level }
    }

    /// Log prior of the sds of the kinds in use, on the scale of ln s, up to a constant.
    #[must_use]
    pub fn log_prior(&self, slope: f64, in_use: &InUse) -> f64 {
        let scales = Self::scales(slope).as_array();
        let terms = self.as_array().into_iter().zip(scales).zip(&in_use.0);
        terms.filter(|(_, list)| !list.is_empty()).map(|((s, h), _)| s.ln() - 0.5 * (s / h).powi(2)).sum()
    }

    /// One step from `fit`, the mode of `objective` made with `self`.
    #[must_use]
    pub fn improved(&self, fit: &Laplace, objective: &Objective<'_>, slope: f64, in_use: &InUse) -> Self {
        let scales = Self::scales(slope).as_array();
        let mut sds = self.as_array();
        let covariance = fit.precision.inverse();
        for ((s, h), rows) in sds.iter_mut().zip(scales).zip(&in_use.0) {
            if rows.is_empty() {
                continue;
            }
            let modes: f64 = rows.iter().map(|&row| fit.mode[fit.free[row]].powi(2)).sum();
            let variances: f64 = rows.iter().map(|&row| covariance[(row, row)]).sum();
            // The mode's move per unit of ln s: H^-1 times what the prior's pull slackens by.
            let mut slack = DVector::zeros(fit.free.len());
            for &row in rows {
                slack[row] = 2.0 * fit.mode[fit.free[row]] / (*s * *s);
            }
            let turn = fit.log_det_slope(objective, &fit.precision.solve(&slack)).unwrap_or(0.0);
            let known = rows.len() as f64 - variances / (*s * *s) + 0.5 * turn - 1.0;
            let h2 = h * h;
            let best = (0.5 * h2 * ((known * known + 4.0 * modes / h2).sqrt() - known)).sqrt();
            let step = (best / *s).ln().clamp(-LONGEST_STEP, LONGEST_STEP);
            *s = (*s * step.exp()).clamp(BOUNDS.0 * h, BOUNDS.1 * h);
        }
        Self::from_array(sds)
    }

    /// From `self` towards `other` on the log scale, `part` of the way (beyond it above 1), within bounds
    /// on a clock whose ln Cref rises by `slope` a day.
    #[must_use]
    pub fn towards(&self, other: &Self, part: f64, slope: f64) -> Self {
        let (from, to, scales) = (self.as_array(), other.as_array(), Self::scales(slope).as_array());
        Self::from_array(std::array::from_fn(|k| {
            (from[k] * (to[k] / from[k]).powf(part)).clamp(BOUNDS.0 * scales[k], BOUNDS.1 * scales[k])
        }))
    }
}

const KINDS: usize = 6;

/// The free effects of sites, years and site-years that have records, by kind: their places among the
/// free parameters.
#[derive(Debug, Clone, Default)]
pub struct InUse([Vec<usize>; KINDS]);

impl InUse {
    /// Of `data`, with `free` the indices of the free parameters.
    #[must_use]
    pub fn of(data: &Dataset, free: &[usize]) -> Self {
        let layout = Layout::of(data);
        let present = Present::of(data);
        let places = |indices: Vec<usize>| -> Vec<usize> {
            indices.into_iter().filter_map(|index| free.iter().position(|&f| f == index)).collect()
        };
        let units = || 0..layout.units;
        Self([
            places(present.sites.iter().map(|&s| layout.u(s)).collect()),
            places(present.years.iter().map(|&y| layout.v(y)).collect()),
            places(units().map(|i| layout.shift(i)).collect()),
            places(units().map(|i| layout.split(i)).collect()),
            places(present.sites.iter().map(|&s| layout.a(s)).collect()),
            places(units().map(|i| layout.level(i)).collect()),
        ])
    }
}

/// Sites and years that have records in a data set (a fold may lack some).
#[derive(Debug, Clone, Default)]
pub struct Present {
    /// Sites with records.
    pub sites: Vec<usize>,
    /// Years with records.
    pub years: Vec<usize>,
}

impl Present {
    /// Of `data`.
    #[must_use]
    pub fn of(data: &Dataset) -> Self {
        Self::among(&data.units.iter().map(|u| (u.site, u.year)).collect::<Vec<_>>())
    }

    /// Among site-years.
    #[must_use]
    pub fn among(units: &[(usize, usize)]) -> Self {
        let mut sites: Vec<usize> = units.iter().map(|u| u.0).collect();
        let mut years: Vec<usize> = units.iter().map(|u| u.1).collect();
        for list in [&mut sites, &mut years] {
            list.sort_unstable();
            list.dedup();
        }
        Self { sites, years }
    }
}
