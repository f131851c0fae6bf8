//! How far sites, years and site-years differ: the sds of the effects, per clock.
//!
//! Each sd has a half-normal prior (scale in days, turned into the clock's log scale; levels on the
//! log scale of counts) and is set to the value that maximises
//! -n ln s - S/(2 s^2) - s^2/(2 h^2), S the sum over the n effects of mode squared plus posterior
//! variance: one EM step for a normal variance under a half-normal prior.

use serde::{Deserialize, Serialize};

use crate::model::laplace::Laplace;
use crate::model::posterior::Layout;

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
/// An sd is not estimated below this part of its prior scale, so that a new year never counts as known.
const FLOOR: f64 = 0.15;

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

    /// Where estimation starts: half the scales.
    #[must_use]
    pub fn start(slope: f64) -> Self {
        let s = Self::scales(slope);
        Self {
            site_shift: 0.5 * s.site_shift,
            year_shift: 0.4 * s.year_shift,
            unit_shift: 0.4 * s.unit_shift,
            unit_split: 0.5 * s.unit_split,
            site_level: 0.5 * s.site_level,
            unit_level: 0.5 * s.unit_level,
        }
    }

    /// One EM step from a fit made with `self`.
    #[must_use]
    pub fn updated(&self, fit: &Laplace, layout: Layout, slope: f64, present: &Present) -> Self {
        let scales = Self::scales(slope);
        let sds = fit.sds();
        let step = |indices: Vec<usize>, old: f64, scale: f64| {
            let free: Vec<usize> = indices.into_iter().filter(|&i| sds[i] > 0.0).collect();
            if free.is_empty() {
                return old;
            }
            let sum: f64 = free.iter().map(|&i| fit.mode[i].powi(2) + sds[i].powi(2)).sum();
            let (n, h2) = (free.len() as f64, scale * scale);
            let variance = 0.5 * h2 * ((n * n + 4.0 * sum / h2).sqrt() - n);
            variance.sqrt().clamp(FLOOR * scale, 4.0 * scale)
        };
        Self {
            site_shift: step(present.sites.iter().map(|&s| layout.u(s)).collect(), self.site_shift, scales.site_shift),
            year_shift: step(present.years.iter().map(|&y| layout.v(y)).collect(), self.year_shift, scales.year_shift),
            unit_shift: step((0..layout.units).map(|i| layout.shift(i)).collect(), self.unit_shift, scales.unit_shift),
            unit_split: step((0..layout.units).map(|i| layout.split(i)).collect(), self.unit_split, scales.unit_split),
            site_level: step(present.sites.iter().map(|&s| layout.a(s)).collect(), self.site_level, scales.site_level),
            unit_level: step((0..layout.units).map(|i| layout.level(i)).collect(), self.unit_level, scales.unit_level),
        }
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
    pub fn of(data: &crate::model::posterior::Dataset) -> Self {
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
