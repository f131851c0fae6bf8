//! The weather of a reach by the hour, as a service forecasts it: at the hours of duns and of spinners.

use std::sync::Arc;

use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, Utc};

use super::flights;
use super::observations;
use crate::domain::air::{AirIssue, EveningWeather, WeatherHour};
use crate::domain::flight::Anchor;
use crate::domain::record::Weather;
use crate::domain::season::Season;
use crate::domain::{Reach, Taxon};
use crate::model::daylength::utc_min_of_mean_solar_hour;
use crate::model::emergence::flight;
use crate::model::emergence::season::SeasonWeather;

/// How far the nearest hour of a forecast may lie from the one asked for: those far ahead stand six hours apart.
const NEAREST_MIN: i64 = 180;

/// A forecast of the weather for one reach.
#[derive(Debug, Clone)]
pub struct ReachWeather(pub(super) Arc<AirIssue>);

impl ReachWeather {
    /// The forecast for the hour nearest to `instant`; `None` where none is near.
    #[must_use]
    pub fn at(&self, instant: DateTime<Utc>) -> Option<&WeatherHour> {
        let away = |hour: &&WeatherHour| (hour.at - instant).abs();
        let nearest = self.0.hours.iter().min_by_key(away)?;
        (away(&nearest) <= TimeDelta::minutes(NEAREST_MIN)).then_some(nearest)
    }

    /// The issue itself.
    #[must_use]
    pub fn issue(&self) -> &AirIssue {
        &self.0
    }

    /// The same at the mean solar `hour` of `date` on `reach`.
    fn at_solar(&self, reach: &Reach, date: NaiveDate, hour: f64) -> Option<&WeatherHour> {
        let minutes = utc_min_of_mean_solar_hour(hour, reach.longitude);
        self.at(date.and_time(NaiveTime::MIN).and_utc() + TimeDelta::minutes(minutes.round() as i64))
    }

    /// Whether it may have hours on `date`, whatever the time zone.
    fn speaks_of(&self, date: NaiveDate) -> bool {
        let ends = self.0.hours.first().zip(self.0.hours.last());
        ends.is_some_and(|(first, last)| {
            let around = date.pred_opt().zip(date.succ_opt());
            around.is_some_and(|(before, after)| first.at.date_naive() <= after && last.at.date_naive() >= before)
        })
    }

    /// The hour of sunset on `date`.
    #[must_use]
    pub(super) fn at_sunset(&self, reach: &Reach, date: NaiveDate) -> Option<EveningWeather> {
        let sunset = flights::anchor_hour(Anchor::Sunset, reach, date)?;
        let hour = *self.at_solar(reach, date, sunset)?;
        Some(EveningWeather { date, made_at: self.0.made_at, hour })
    }

    /// What it means for every day of `season`: for duns at mean solar hour `dun_hour` of the day of that index, for
    /// spinners of `taxon` `flight_offset_hours` after their anchor, where they are known to fly. Days that it does
    /// not speak of have usual weather.
    #[must_use]
    pub(super) fn season(
        &self,
        season: Season,
        reach: &Reach,
        taxon: &Taxon,
        dun_hour: impl Fn(usize) -> f64,
        flight_offset_hours: Option<f64>,
    ) -> SeasonWeather {
        let habit = flights::habit(taxon);
        let flight_hour =
            |date| Some(flights::anchor_hour(habit.as_ref()?.anchor, reach, date)? + flight_offset_hours?);
        let spoken_of = |index: usize| self.speaks_of(season.date(index + 1));
        let day = |index: usize| {
            if !spoken_of(index) {
                return Default::default();
            }
            let hour = self.at_solar(reach, season.date(index + 1), dun_hour(index));
            hour.map_or_else(Default::default, |hour| observations::covariates(weather(hour)))
        };
        let dusk = |index: usize| {
            if !spoken_of(index) {
                return Default::default();
            }
            let date = season.date(index + 1);
            let hour = flight_hour(date).and_then(|at| self.at_solar(reach, date, at));
            hour.map_or_else(Default::default, |hour| flight::covariates(hour.wind_kmh, Some(hour.air_c), hour.rain_mm))
        };
        SeasonWeather { duns: (0..season.len()).map(day).collect(), flights: (0..season.len()).map(dusk).collect() }
    }
}

/// As a member would have noted it.
fn weather(hour: &WeatherHour) -> Weather {
    Weather { cloud: hour.cloud, wind_kmh: hour.wind_kmh, air_c: Some(hour.air_c), rain_mm: hour.rain_mm }
}
