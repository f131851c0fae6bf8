//! Water temperature of every reach of a watershed, as it was known at a time.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;

use super::evening::ReachWeather;
use super::water_air::{self, Choice, GaugeAir, GaugeReadings, ReachAir, gauge_readings};
use super::water_hours::{GaugeHours, ReachHours};
use crate::domain::season::Season;
use crate::domain::{Gauge, Quantity, Reach, Slug, Watershed};
use crate::model::clock::Drivers;
use crate::model::daylength::day_length_hours;
use crate::model::temperature::{
    DayTemp, Neighbour, Series, SiteTemperature, central_season, site_temperature_with_air,
};
use crate::store::{StoreError, Tx, place};

/// Water of the reaches of one watershed.
#[derive(Debug, Clone, Default)]
pub struct Water {
    /// By reach; absent where neither the reach nor a neighbour has enough.
    pub reaches: BTreeMap<Slug, SiteTemperature>,
    /// Of the reaches that have one, the gauge whose series is their own.
    pub own: BTreeMap<Slug, Slug>,
    /// What drives the water of reaches besides itself; absent where there is not enough air.
    pub air: BTreeMap<Slug, ReachAir>,
    /// Forecasts of the weather, of the reaches that have one.
    pub weather: BTreeMap<Slug, ReachWeather>,
    /// What tells the hours of a day, of the reaches of which some gauge is read by the hour.
    pub hours: BTreeMap<Slug, ReachHours>,
    /// What people call each gauge.
    pub gauge_names: BTreeMap<Slug, String>,
    /// Last day with a good reading of the water anywhere.
    pub newest: Option<NaiveDate>,
    /// Last day of which anything was used: the newest reading, or the day on which the newest forecast of the
    /// air was made.
    pub through: Option<NaiveDate>,
}

/// What is known of the water of a watershed, as it was read.
#[derive(Debug)]
pub struct Measured {
    time_zone: Tz,
    gauges: Vec<(Gauge, GaugeReadings)>,
    air: Vec<GaugeAir>,
    through: Option<NaiveDate>,
}

/// Reads the good readings known by `known_by` up to and with `through` (to the last there is when `None`).
///
/// # Errors
/// [`StoreError`] from the database.
pub async fn read(
    tx: &mut Tx,
    watershed: &Watershed,
    known_by: Option<DateTime<Utc>>,
    through: Option<NaiveDate>,
) -> Result<Measured, StoreError> {
    let known = place::gauges(tx, &watershed.slug).await?;
    let air = water_air::load(tx, watershed, &known, known_by, through).await?;
    let mut gauges = Vec::with_capacity(known.len());
    for gauge in known {
        let readings =
            gauge_readings(tx, watershed, &gauge.slug, Quantity::WaterTemperature, known_by, through).await?;
        gauges.push((gauge, readings));
    }
    Ok(Measured { time_zone: watershed.time_zone, gauges, air, through })
}

impl Measured {
    /// Completes the water per reach, which takes a while.
    ///
    /// A reach's own series is that of its first gauge with readings; all other gauges are neighbours. Of the
    /// gauges with air, its own come first, then the nearest.
    #[must_use]
    pub fn complete(self, reaches: &[Reach]) -> Water {
        let mut series: BTreeMap<Slug, Series> = BTreeMap::new();
        let mut hourly: Vec<GaugeHours> = Vec::new();
        for (gauge, readings) in &self.gauges {
            hourly.extend(GaugeHours::of(gauge, &readings.instants, self.time_zone));
            let days = readings.days(self.time_zone);
            if !days.is_empty() {
                series.insert(gauge.slug.clone(), days);
            }
        }
        let newest = series.values().filter_map(|s| s.keys().next_back().copied()).max();
        // Climatology and gaps need a real last day.
        let last = self.through.or_else(|| newest.max(water_air::newest(&self.air).filter(|_| newest.is_some())));
        let weather = reaches
            .iter()
            .filter_map(|reach| Some((reach.slug.clone(), water_air::weather_of(&self.air, reach)?)))
            .collect();
        let hours =
            reaches.iter().filter_map(|reach| Some((reach.slug.clone(), ReachHours::of(reach, &hourly)?))).collect();
        let gauge_names = self.gauges.iter().map(|(gauge, _)| (gauge.slug.clone(), gauge.name.clone())).collect();
        let Some(last) = last else { return Water { weather, ..Water::default() } };
        let mut choice = Choice::among(&self.air, last);
        let empty = Series::new();
        let mut water = Water { weather, hours, gauge_names, newest, through: Some(last), ..Water::default() };
        for reach in reaches {
            let own_gauge = reach.gauges.iter().find(|g| series.contains_key(*g));
            let neighbours: Vec<Neighbour<'_>> = series
                .iter()
                .filter(|(gauge, _)| Some(*gauge) != own_gauge)
                .map(|(gauge, series)| Neighbour { gauge, series })
                .collect();
            let driven = own_gauge.and_then(|gauge| choice.of(reach, gauge, series.get(gauge)?));
            let own = own_gauge.and_then(|gauge| series.get(gauge)).unwrap_or(&empty);
            let model = driven.as_ref().map(|driven| &driven.model);
            if let Ok(site) = site_temperature_with_air(own, &neighbours, model, last) {
                water.reaches.insert(reach.slug.clone(), site);
                water.air.extend(driven.map(|driven| (reach.slug.clone(), driven)));
                water.own.extend(own_gauge.map(|gauge| (reach.slug.clone(), gauge.clone())));
            }
        }
        water
    }
}

impl Water {
    /// What people call `gauge`; its slug where nobody says.
    #[must_use]
    pub fn gauge_name<'a>(&'a self, gauge: &'a Slug) -> &'a str {
        self.gauge_names.get(gauge).map_or(gauge.as_str(), String::as_str)
    }

    /// The likeliest water of `season` on `reach`; zeros without any water, for the calendar alone.
    #[must_use]
    pub fn central(&self, reach: &Reach, season: Season) -> Drivers {
        match self.reaches.get(&reach.slug) {
            Some(site) => {
                let days = central_season(&site.completed, &site.climatology, season);
                drivers(reach, season, days.iter().map(|d| d.temp))
            }
            None => drivers(reach, season, std::iter::repeat_n(DayTemp::of_mean(0.0), season.len())),
        }
    }

    /// The usual year of `reach`; `None` without water.
    #[must_use]
    pub fn usual(&self, reach: &Reach, season: Season) -> Option<Drivers> {
        let site = self.reaches.get(&reach.slug)?;
        Some(drivers(reach, season, (1..=season.len()).map(|day| site.climatology.usual_day(season.date(day)))))
    }
}

/// Clock drivers of `days` of `season` at `reach`.
pub fn drivers(reach: &Reach, season: Season, days: impl Iterator<Item = DayTemp>) -> Drivers {
    of_days(season, &day_lengths_hours(reach, season), days)
}

/// [`drivers`] of each of several courses of `season` at `reach`.
pub fn drivers_of_each(reach: &Reach, season: Season, courses: Vec<Vec<DayTemp>>) -> Vec<Drivers> {
    // The sun is the same for all, and dearer than the rest.
    let lengths = day_lengths_hours(reach, season);
    courses.into_iter().map(|days| of_days(season, &lengths, days.into_iter())).collect()
}

fn of_days(season: Season, day_length_hours: &[f64], days: impl Iterator<Item = DayTemp>) -> Drivers {
    let (tmin_c, tmax_c) = days.map(|d| (d.tmin_c, d.tmax_c)).unzip();
    Drivers { tmin_c, tmax_c, day_length_hours: day_length_hours.to_vec(), idle_days: season.idle_days() }
}

fn day_lengths_hours(reach: &Reach, season: Season) -> Vec<f64> {
    (1..=season.len()).map(|day| day_length_hours(season.date(day), reach.latitude, reach.longitude)).collect()
}
