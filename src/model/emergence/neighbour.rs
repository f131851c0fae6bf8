//! What fits on other waters tell of a water with few records of its own.
//!
//! Insects of one species need much the same heat on neighbouring rivers: what is carried over is the
//! heat at which half have emerged, read on the own water's usual year. How far watersheds lie apart at
//! equal heat is estimated from all taxa that several of them know ([`super::watersheds`]).

use crate::domain::fit::ClockKind;
use crate::model::clock::{ClockRun, Drivers};
use crate::model::posterior::layout::{D50, DC, H0, LOG_SIGMA, TB};

use super::fitted::FittedTaxon;
use super::prior::{LOGIT_90, TaxonPrior, log_slope_per_day};

/// Sd of the base temperature between watersheds, degrees Celsius (these three are ours to say, no source).
const WATERSHED_BASE_C: f64 = 0.5;
/// Sd of the log width between watersheds.
const WATERSHED_LOG_WIDTH: f64 = 0.3;
/// Sd of the hour of peak between watersheds, hours.
const WATERSHED_HOURS: f64 = 0.5;

/// A fit as it reads on the usual year of some water.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Day on which half have emerged, and its error as far as the fit tells, days.
    pub median_day: (f64, f64),
    /// Base temperature, degrees Celsius, and its sd; `None` where it was held.
    base_temp_c: Option<(f64, f64)>,
    /// Days from 10 % to half of the emergence, and the sd of their log; `None` for a curve of two parts.
    width_days: Option<(f64, f64)>,
    /// Hour of peak, local mean solar time, and its sd, where records tell it.
    hour: Option<(f64, f64)>,
}

impl Reading {
    /// `fitted` read on a water whose usual year, cut alike, is `climate`.
    ///
    /// `None` where it tells nothing: it is itself prior-driven, or its heat is never reached there. Without water temperature there (`has_water` false) its day is taken as it is.
    #[must_use]
    pub fn of(fitted: &FittedTaxon, climate: &Drivers, has_water: bool) -> Option<Self> {
        if fitted.prior_driven {
            return None;
        }
        let on_heat = fitted.member(ClockKind::Thermal).filter(|_| has_water);
        let fit = &on_heat.or_else(|| fitted.member(ClockKind::Calendar))?.fit;
        let (mean, sds) = (&fit.mean, fit.laplace.sds());
        let run = |climate: &Drivers, base: f64| ClockRun::new(fit.clock, climate, base, mean[DC], climate.len());
        let read = |base: f64| run(climate, base).day_reaching(run(&fitted.climate, base).at(mean[D50]).c);
        let day = read(mean[TB])?;
        let slope_there = log_slope_per_day(&run(&fitted.climate, mean[TB]), mean[D50])?;
        let slope_here = log_slope_per_day(&run(climate, mean[TB]), day)?;
        // How surely the fit knows its own middle, and, where waters differ, the base that its heat is counted from.
        let by_base = match (read(mean[TB] - sds[TB]), read(mean[TB] + sds[TB])) {
            (Some(low), Some(high)) if sds[TB] > 0.0 => 0.5 * (high - low),
            _ => 0.0,
        };
        let width_days = (!fit.two_parts)
            .then(|| (mean[LOG_SIGMA].exp() * LOGIT_90 / slope_there, sds[LOG_SIGMA].hypot(WATERSHED_LOG_WIDTH)));
        Some(Self {
            median_day: (day, (sds[D50] * slope_there / slope_here).hypot(by_base)),
            // A base that was held there was known beforehand, here as there.
            base_temp_c: (sds[TB] > 0.0).then(|| (mean[TB], sds[TB].hypot(WATERSHED_BASE_C))),
            width_days,
            hour: (fitted.hours_known && sds[H0] > 0.0).then(|| (mean[H0], sds[H0].hypot(WATERSHED_HOURS))),
        })
    }

    /// `prior` with what this fit has learned, and with `median_day`, foretold from all that help.
    #[must_use]
    pub fn carried_over(&self, prior: &TaxonPrior, median_day: (f64, f64)) -> TaxonPrior {
        TaxonPrior {
            base_temp_c: self.base_temp_c.unwrap_or(prior.base_temp_c),
            median_day: Some(median_day),
            width_days: self.width_days.or(prior.width_days),
            hour: self.hour.or(prior.hour),
            ..*prior
        }
    }
}
