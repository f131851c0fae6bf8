//! Where each parameter stands in the parameter vector.
//!
//! Order: Tb, Dc, d50, log sigma, log b, tau1, log gaps (2), h0, h1, log sh, beta, u by site,
//! v by year, a by site; then what only some data need: second part (log gap, log sigma, logit
//! share), counts (alpha, log theta, level of traps), first sightings (log scale), and per site-year:
//! shift of the curve, shift of the split, level.

use super::data::{COVARIATES, Dataset};

/// Base temperature, degrees Celsius.
pub const TB: usize = 0;
/// Gate day length, hours.
pub const DC: usize = 1;
/// Median day of the first part in the mean climate.
pub const D50: usize = 2;
/// Log scale of the first part on ln C.
pub const LOG_SIGMA: usize = 3;
/// Log slope of the class scale.
pub const LOG_B: usize = 4;
/// First class threshold.
pub const TAU1: usize = 5;
/// Log gaps between thresholds, two of them.
pub const LOG_GAPS: usize = 6;
/// Hour of peak at 12 C water, local mean solar time.
pub const H0: usize = 8;
/// Hours per degree of water.
pub const H1: usize = 9;
/// Log spread of the hour, hours.
pub const LOG_SH: usize = 10;
/// First covariate effect.
pub const BETA: usize = 11;

/// Positions that depend on the numbers of sites, years and site-years.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Layout {
    /// Number of sites.
    pub sites: usize,
    /// Number of years.
    pub years: usize,
    /// Number of site-years.
    pub units: usize,
}

/// Number of parameters after the site and year effects that are not per site-year.
const EXTRAS: usize = 7;

impl Layout {
    /// The layout for `data`.
    #[must_use]
    pub fn of(data: &Dataset) -> Self {
        Self { sites: data.sites, years: data.years, units: data.units.len() }
    }

    /// Shift of site `site` on ln C.
    #[must_use]
    pub fn u(self, site: usize) -> usize {
        BETA + COVARIATES + site
    }

    /// Shift of year `year` on ln C.
    #[must_use]
    pub fn v(self, year: usize) -> usize {
        self.u(self.sites) + year
    }

    /// Level of site `site`.
    #[must_use]
    pub fn a(self, site: usize) -> usize {
        self.v(self.years) + site
    }

    /// Number of parameters of the core form (those above).
    #[must_use]
    pub fn core_len(self) -> usize {
        self.a(self.sites)
    }

    /// Log distance of the second part's centre on ln C.
    #[must_use]
    pub fn log_gap(self) -> usize {
        self.core_len()
    }

    /// Log scale of the second part.
    #[must_use]
    pub fn log_sigma2(self) -> usize {
        self.core_len() + 1
    }

    /// Logit share of the second part.
    #[must_use]
    pub fn logit_w(self) -> usize {
        self.core_len() + 2
    }

    /// Log level of counts.
    #[must_use]
    pub fn alpha(self) -> usize {
        self.core_len() + 3
    }

    /// Log dispersion of counts.
    #[must_use]
    pub fn log_theta(self) -> usize {
        self.core_len() + 4
    }

    /// Log scale of first sightings on ln C.
    #[must_use]
    pub fn log_first(self) -> usize {
        self.core_len() + 5
    }

    /// How much more a trap catches than a visit counts, log scale; zero unless both exist.
    #[must_use]
    pub fn trap_level(self) -> usize {
        self.core_len() + 6
    }

    /// Shift of site-year `unit` on ln C.
    #[must_use]
    pub fn shift(self, unit: usize) -> usize {
        self.core_len() + EXTRAS + unit
    }

    /// Shift of the split of site-year `unit` on the logit scale.
    #[must_use]
    pub fn split(self, unit: usize) -> usize {
        self.shift(self.units) + unit
    }

    /// Level of site-year `unit`.
    #[must_use]
    pub fn level(self, unit: usize) -> usize {
        self.split(self.units) + unit
    }

    /// Number of all parameters.
    #[must_use]
    pub fn len(self) -> usize {
        self.level(self.units)
    }

    /// Never true.
    #[must_use]
    pub fn is_empty(self) -> bool {
        false
    }
}
