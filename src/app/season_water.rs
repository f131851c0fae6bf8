//! Water of one season on one reach as a forecast needs it: what may come, day by day.

use std::sync::Arc;

use chrono::NaiveDate;
use rand::SeedableRng;
use rand_pcg::Pcg64;
use rayon::prelude::*;
use sha2::{Digest, Sha256};

use super::fit::Known;
use super::forecast::ForecastError;
use super::said::said;
use super::water;
use super::{water_hours, water_words};
use crate::domain::forecast::{Quantiles, WaterBasis, WaterFrom};
use crate::domain::said::Said;
use crate::domain::season::Season;
use crate::domain::{Reach, Slug};
use crate::model::clock::Drivers;
use crate::model::temperature::{DayBasis, DayTemp, SiteTemperature, TemperatureError, ensemble_with_air};

/// Members of the water ensemble.
pub const MEMBERS: usize = 100;

/// Water of one season on one reach.
#[derive(Debug, Clone)]
pub struct SeasonWater {
    /// Seasons that may come, as clock drivers.
    pub members: Vec<Drivers>,
    /// Quantiles of each day's mean; `None` without water.
    pub daily: Vec<Option<Quantiles>>,
    /// How each day came about; `None` without water.
    pub from: Vec<Option<WaterFrom>>,
    /// Where the temperatures come from, in words; `None` without water.
    pub words: Option<Said>,
    /// Maximum of each day that one in ten exceeds, degrees Celsius.
    pub warmest: Vec<f64>,
    /// The likeliest season.
    pub central: Drivers,
    /// The usual year; `None` without water.
    pub usual: Option<Drivers>,
}

impl SeasonWater {
    /// Of `reach` as known at the end of `as_of`.
    ///
    /// # Errors
    /// [`ForecastError::CutOff`] when what is known has seen later days.
    pub fn new(known: &Known, reach: &Reach, season: Season, as_of: NaiveDate) -> Result<Self, ForecastError> {
        let Some(site) = known.water.reaches.get(&reach.slug) else {
            let still = known.water.central(reach, season);
            let daily = vec![None; season.len()];
            return Ok(Self {
                members: vec![still.clone()],
                from: vec![None; season.len()],
                words: None,
                warmest: vec![f64::NEG_INFINITY; daily.len()],
                daily,
                central: still,
                usual: None,
            });
        };
        let mut rng = Pcg64::seed_from_u64(seed(&[&reach.slug.key(), &season.year.to_string(), &as_of.to_string()]));
        // Measured air alone gains nothing ahead: only a forecast of it drives the water.
        let air = known.water.air.get(&reach.slug);
        let driven = air.and_then(|air| air.forecast.as_ref().map(|(forecast, _)| (&air.model, forecast)));
        let members = ensemble_with_air(&site.completed, &site.climatology, driven, season, as_of, MEMBERS, &mut rng)
            .map_err(|_: TemperatureError| ForecastError::CutOff)?;
        let spread = |day: usize, value: fn(&DayTemp) -> f64| {
            let mut values: Vec<f64> = members.iter().map(|m| value(&m[day])).collect();
            values.sort_by(f64::total_cmp);
            let at = |p: f64| values[(p * (values.len() - 1) as f64).round() as usize];
            Quantiles { p10: at(0.1), p50: at(0.5), p90: at(0.9) }
        };
        let daily: Vec<Option<Quantiles>> = (0..season.len()).map(|day| Some(spread(day, |d| d.tmean_c))).collect();
        let ahead_to = driven.and_then(|(_, forecast)| forecast.days().last().map(|day| day.date));
        let from = (0..season.len()).map(|day| Some(water_from(site, season.date(day + 1), daily[day]?, ahead_to)));
        // Where no range is known the days have their mean alone: the warmest hour is that of a usual day about it.
        let hour = |day: usize| water_hours::warmest_departure_c(known, reach, season.date(day + 1));
        let warmest = (0..season.len())
            .map(|day| warmest_of(spread(day, |d| d.tmax_c), spread(day, |d| d.tmean_c), hour(day)))
            .collect();
        Ok(Self {
            from: from.collect(),
            words: Some(said(|language| water_words::of(language, &known.water, &reach.slug, site))),
            daily,
            warmest,
            central: known.water.central(reach, season),
            usual: known.water.usual(reach, season),
            members: water::drivers_of_each(reach, season, members),
        })
    }
}

/// The maximum of a day that one in ten exceeds, from its maximum and its mean, and by how much the warmest hour of a usual
/// day lies above its mean, all degrees Celsius.
///
/// Not the middle: a caution that half of the warm days outdo comes too late for the fish.
fn warmest_of(tmax: Quantiles, tmean: Quantiles, departure_c: f64) -> f64 {
    tmax.p90.max(tmean.p90 + departure_c)
}

/// The season of broods whose clocks run alike, on the reaches asked for.
#[derive(Debug)]
pub(super) struct SeasonWaters<'a> {
    /// The season.
    pub(super) season: Season,
    /// Index, reach and water of each.
    pub(super) reaches: Vec<(usize, &'a Reach, SeasonWater)>,
    /// The likeliest water of every reach of the watershed, for this season's own records; empty where they are
    /// not asked for.
    pub(super) drivers: Vec<Arc<Drivers>>,
}

impl<'a> SeasonWaters<'a> {
    /// Of `only` (every reach when `None`) as known at the end of `as_of`.
    ///
    /// # Errors
    /// [`ForecastError::CutOff`] when what is known has seen later days.
    pub(super) fn new(
        known: &'a Known,
        season: Season,
        only: Option<&Slug>,
        as_of: NaiveDate,
        in_season: bool,
    ) -> Result<Self, ForecastError> {
        let asked = |reach: &Reach| only.is_none_or(|slug| *slug == reach.slug);
        // Side by side: each draws a hundred seasons.
        let reaches = known.reaches.par_iter().enumerate().filter(|(_, reach)| asked(reach));
        let reaches = reaches.map(|(site, reach)| Ok((site, reach, SeasonWater::new(known, reach, season, as_of)?)));
        let drivers = known.reaches.iter().filter(|_| in_season);
        Ok(Self {
            season,
            reaches: reaches.collect::<Result<_, ForecastError>>()?,
            drivers: drivers.map(|reach| Arc::new(known.water.central(reach, season))).collect(),
        })
    }
}

/// Half-width of the middle 80 % of a normal distribution, in standard deviations.
const Z90: f64 = 1.281_551_565_544_6;

/// How the water of `date` came about. `ahead_to` is the last day of a forecast of the air.
fn water_from(site: &SiteTemperature, date: NaiveDate, spread: Quantiles, ahead_to: Option<NaiveDate>) -> WaterFrom {
    let Some(day) = site.completed.days().get(&date) else {
        let later = site.completed.days().keys().next_back().is_none_or(|last| date > *last);
        let driven = later && ahead_to.is_some_and(|last| date <= last);
        let basis = if driven { WaterBasis::AheadWithAir } else { WaterBasis::Ahead };
        return WaterFrom { basis, error_c: (spread.p90 - spread.p10) / (2.0 * Z90) };
    };
    let basis = match day.basis {
        DayBasis::Measured => return WaterFrom { basis: WaterBasis::Measured, error_c: 0.0 },
        DayBasis::Gap => WaterBasis::Gap,
        DayBasis::Gauge => WaterBasis::Gauge,
        DayBasis::Gauges => WaterBasis::Gauges,
        DayBasis::Between => WaterBasis::Between,
        DayBasis::Air => WaterBasis::Air,
    };
    WaterFrom { basis, error_c: day.sd_c.hypot(site.completed.level_sd_c()) }
}

/// A seed from texts: the first eight bytes of their SHA-256.
#[must_use]
pub fn seed(parts: &[&str]) -> u64 {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update(part.as_bytes());
        hash.update([0]);
    }
    hash.finalize().iter().take(8).fold(0, |seed, byte| (seed << 8) | u64::from(*byte))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_warmest_of_a_day_is_not_its_middle() {
        let about = |p50: f64, wide: f64| Quantiles { p10: p50 - wide, p50, p90: p50 + wide };
        assert_eq!(warmest_of(about(19.0, 1.5), about(16.0, 1.0), 2.0), 20.5);
        // A day of which the mean alone is known.
        assert_eq!(warmest_of(about(16.0, 1.0), about(16.0, 1.0), 4.0), 21.0);
    }
}
