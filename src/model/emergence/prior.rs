//! Priors that mean the same days on every clock.
//!
//! A width or an effect of so many days is turned into the clock's own log scale with the slope of
//! ln Cref at the starting median day, so that no clock is favoured by its units.

use crate::domain::fit::ClockKind;
use crate::model::clock::ClockRun;
use crate::model::likelihood::time_of_day::REFERENCE_WATER_C;
use crate::model::posterior::data::{COVARIATES, RAIN};
use crate::model::posterior::layout::{BETA, D50, DC, H0, H1, LOG_B, LOG_GAPS, LOG_SH, LOG_SIGMA, TAU1, TB};
use crate::model::posterior::{Dataset, Layout, Outcome, Prior, Priors, Protocol};

use super::effects::EffectSds;

/// logit(0.9) and minus logit(0.1): days from 10 % to 50 % of a logistic, per scale unit.
pub const LOGIT_90: f64 = 2.197_224_577_336_219_4;
/// Days after the first part's median at which a second part is expected, before data speak.
const SECOND_PART_DAYS: f64 = 60.0;

/// What is known of a taxon and brood before its records.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TaxonPrior {
    /// Base temperature, degrees Celsius, and its sd; sd 0 holds it.
    pub base_temp_c: (f64, f64),
    /// Median day of the year and its sd, where a window or a brood table gives one.
    pub median_day: Option<(f64, f64)>,
    /// Days from 10 % to half of the emergence, and the sd of their log, where a fit on another water
    /// tells them.
    pub width_days: Option<(f64, f64)>,
    /// True for a species or species group, false above that rank: wider curves.
    pub species: bool,
    /// True for one of several broods: it has one part, since what lies behind it is the next brood.
    pub one_of_several: bool,
    /// Hour of peak, local mean solar time, and its sd.
    pub hour: Option<(f64, f64)>,
}

impl TaxonPrior {
    /// Median day and sd used for `data`: the traits', else the mean day of positives with sd 40,
    /// else day 160 with sd 40.
    #[must_use]
    pub fn median_day_for(&self, data: &Dataset) -> (f64, f64) {
        self.median_day.unwrap_or_else(|| (mean_positive_day(data).unwrap_or(160.0), 40.0))
    }
}

/// Mean day of positive records, weighted by class or by catch per effort.
#[must_use]
pub fn mean_positive_day(data: &Dataset) -> Option<f64> {
    let (mut sum, mut weights) = (0.0, 0.0);
    for observation in data.units.iter().flat_map(|u| &u.observations) {
        let weight = match observation.outcome {
            Outcome::Class(class) => class as f64,
            Outcome::Seen | Outcome::First { .. } => 1.0,
            Outcome::Count(count) => f64::from(count) / observation.log_effort.exp(),
        };
        sum += weight * 0.5 * (observation.from_day + 1 + observation.to_day) as f64;
        weights += weight;
    }
    (weights > 0.0).then(|| sum / weights)
}

/// Slope of ln Cref at `day`, per day, over two weeks; `None` where the clock does not run yet.
#[must_use]
pub fn log_slope_per_day(reference: &ClockRun, day: f64) -> Option<f64> {
    let (early, late) = (reference.at(day - 7.0).c, reference.at(day + 7.0).c);
    (early > 0.0 && late > early).then(|| (late / early).ln() / 14.0)
}

/// The priors of `data` on `clock`; `None` where the clock does not run at the median day.
#[must_use]
pub fn priors(
    clock: ClockKind,
    data: &Dataset,
    taxon: &TaxonPrior,
    two_parts: bool,
    effects: &EffectSds,
) -> Option<Priors> {
    let layout = Layout::of(data);
    let (base, base_sd) = taxon.base_temp_c;
    let reference = ClockRun::new(clock, &data.climate, base, 12.5, data.climate.len());
    let (day, day_sd) = taxon.median_day_for(data);
    let slope = log_slope_per_day(&reference, day)?;
    let mut p = vec![Prior::fixed(0.0); layout.len()];
    let runs_on_heat = clock != ClockKind::Calendar;
    p[TB] = if runs_on_heat && base_sd > 0.0 { Prior::normal(base, base_sd) } else { Prior::fixed(base) };
    p[DC] = if clock == ClockKind::Gated { Prior::normal(12.5, 1.0) } else { Prior::fixed(12.5) };
    p[D50] = Prior::normal(day, day_sd);
    let of_rank = if taxon.species { (8.0, 0.6) } else { (20.0, 0.8) };
    let (width_days, width_sd) = taxon.width_days.unwrap_or(of_rank);
    let log_width = |days: f64, per_day: f64| (days * per_day / LOGIT_90).ln();
    p[LOG_SIGMA] = Prior::normal(log_width(width_days, slope), width_sd);
    p[LOG_B] = Prior::normal(0.0, 0.3);
    p[TAU1] = Prior::normal(-2.5, 3.0);
    p[LOG_GAPS] = Prior::normal(0.5, 0.7);
    p[LOG_GAPS + 1] = Prior::normal(0.5, 0.7);
    let (hour, hour_sd) = taxon.hour.unwrap_or((14.0, 4.0));
    p[H0] = Prior::normal(hour, hour_sd);
    p[H1] = Prior::normal(0.0, 0.3);
    p[LOG_SH] = Prior::normal(1.5_f64.ln(), 0.5);
    (0..COVARIATES).for_each(|k| p[BETA + k] = Prior::normal(0.0, 1.0));
    // Where nobody noted rain nothing can be learned of it.
    if data.units.iter().flat_map(|u| &u.observations).all(|o| o.x[RAIN] == 0.0) {
        p[BETA + RAIN] = Prior::fixed(0.0);
    }
    (0..layout.sites).for_each(|i| p[layout.u(i)] = Prior::effect(effects.site_shift));
    (0..layout.years).for_each(|i| p[layout.v(i)] = Prior::effect(effects.year_shift));
    (0..layout.sites).for_each(|i| p[layout.a(i)] = Prior::effect(effects.site_level));
    let has = |test: fn(&Outcome) -> bool| data.units.iter().flat_map(|u| &u.observations).any(|o| test(&o.outcome));
    if has(|o| matches!(o, Outcome::Count(_))) {
        p[layout.alpha()] = Prior::normal(0.0, 5.0);
        p[layout.log_theta()] = Prior::normal(0.0, 1.0);
        let counted = |protocol| {
            let all = || data.units.iter().flat_map(|u| &u.observations);
            all().any(|o| o.protocol == protocol && matches!(o.outcome, Outcome::Count(_)))
        };
        if counted(Protocol::Trap) && counted(Protocol::Visit) {
            p[layout.trap_level()] = Prior::normal(0.0, 3.0);
        }
    }
    p[layout.log_first()] = if has(|o| matches!(o, Outcome::First { .. })) {
        Prior::normal(log_width(width_days * 0.5, slope), width_sd)
    } else {
        Prior::fixed(log_width(width_days * 0.5, slope))
    };
    if two_parts {
        let (first, second) = (reference.at(day).c, reference.at(day + SECOND_PART_DAYS).c);
        let late = log_slope_per_day(&reference, day + SECOND_PART_DAYS).unwrap_or(slope);
        p[layout.log_gap()] = Prior::normal((second / first).ln().max(0.05).ln(), 0.7);
        p[layout.log_sigma2()] = Prior::normal(log_width(30.0, late), 0.8);
        p[layout.logit_w()] = Prior::normal(-0.5, 1.5);
    }
    for unit in 0..layout.units {
        p[layout.shift(unit)] = Prior::effect(effects.unit_shift);
        p[layout.level(unit)] = Prior::effect(effects.unit_level);
        if two_parts {
            p[layout.split(unit)] = Prior::effect(effects.unit_split);
        }
    }
    Some(Priors(p))
}

/// Hour of peak on a day with water of `water_c` under `theta`, local mean solar time.
#[must_use]
pub fn peak_hour(theta: &[f64], water_c: f64) -> f64 {
    (theta[H0] + theta[H1] * (water_c - REFERENCE_WATER_C)).rem_euclid(24.0)
}
