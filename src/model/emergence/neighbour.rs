//! What a fit on another water tells of a water with few records of its own.
//!
//! Insects of one species need much the same heat on neighbouring rivers: what is carried over is the
//! heat at which half have emerged, read on the own water's usual year. A watershed differs from
//! another as reaches do, and by a little more that no record of one watershed can tell; how much
//! is ours to say (no source).

use crate::domain::fit::ClockKind;
use crate::model::clock::{ClockRun, Drivers};
use crate::model::posterior::layout::{D50, DC, H0, LOG_SIGMA, TB};

use super::fitted::FittedTaxon;
use super::prior::{LOGIT_90, TaxonPrior, log_slope_per_day};

/// Sd of a watershed's median day against another's at equal heat, days, beside that of reaches.
const WATERSHED_DAYS: f64 = 5.0;
/// Sd of the base temperature between watersheds, degrees Celsius.
const WATERSHED_BASE_C: f64 = 0.5;
/// Sd of the log width between watersheds.
const WATERSHED_LOG_WIDTH: f64 = 0.3;
/// Sd of the hour of peak between watersheds, hours.
const WATERSHED_HOURS: f64 = 0.5;

/// `prior` with what `neighbour` has learned, for a water whose usual year is `climate`.
///
/// `None` where there is nothing to carry: the neighbour is itself prior-driven, its clocks run from another day
/// (as those of a fit made before an autumn brood had clocks of its own), or its heat is never reached here. Without water temperature here (`has_water` false) the neighbour's day is taken as
/// it is.
#[must_use]
pub fn carried_over(
    prior: &TaxonPrior,
    neighbour: &FittedTaxon,
    climate: &Drivers,
    has_water: bool,
) -> Option<TaxonPrior> {
    let runs_from_new_year = |climate: &Drivers| climate.idle_days == 0;
    if neighbour.prior_driven || runs_from_new_year(&neighbour.climate) != runs_from_new_year(climate) {
        return None;
    }
    let on_heat = neighbour.member(ClockKind::Thermal).filter(|_| has_water);
    let fit = &on_heat.or_else(|| neighbour.member(ClockKind::Calendar))?.fit;
    let (mean, sds) = (&fit.mean, fit.laplace.sds());
    let run = |climate: &Drivers| ClockRun::new(fit.clock, climate, mean[TB], mean[DC], climate.len());
    let (there, here) = (run(&neighbour.climate), run(climate));
    let day = here.day_reaching(there.at(mean[D50]).c)?;
    let (slope_there, slope_here) = (log_slope_per_day(&there, mean[D50])?, log_slope_per_day(&here, day)?);
    // How surely the neighbour knows its own middle, how far reaches lie apart, and watersheds.
    let sd = [sds[D50] * slope_there / slope_here, fit.effects.site_shift / slope_here, WATERSHED_DAYS];
    let wider = |sd: f64, by: f64| sd.hypot(by);
    let width = (!fit.two_parts).then(|| {
        let days = mean[LOG_SIGMA].exp() * LOGIT_90 / slope_there;
        (days, wider(sds[LOG_SIGMA], WATERSHED_LOG_WIDTH))
    });
    Some(TaxonPrior {
        // A base that was held there was known beforehand, here as there.
        base_temp_c: if sds[TB] > 0.0 { (mean[TB], wider(sds[TB], WATERSHED_BASE_C)) } else { prior.base_temp_c },
        median_day: Some((day, sd.iter().map(|x| x * x).sum::<f64>().sqrt())),
        width_days: width.or(prior.width_days),
        hour: if neighbour.hours_known && sds[H0] > 0.0 {
            Some((mean[H0], wider(sds[H0], WATERSHED_HOURS)))
        } else {
            prior.hour
        },
        ..*prior
    })
}
