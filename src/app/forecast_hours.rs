//! Hours of a forecast: of emergence, and of spinner flights.

use chrono::{Days, NaiveDate, NaiveTime, TimeDelta};

use super::forecast::Context;
use super::{flights, water_hours};
use crate::domain::air::EveningWeather;
use crate::domain::fit::ClockKind;
use crate::domain::forecast::{Flight, HourWindow};
use crate::domain::water_hours::WaterHours;
use crate::model::daylength::utc_min_of_mean_solar_hour;
use crate::model::emergence::flight::FlightFit;
use crate::model::emergence::season::SeasonWeather;
use crate::model::emergence::{FittedTaxon, Member, SeasonForecast, prior};
use crate::model::likelihood::time_of_day::REFERENCE_WATER_C;
use crate::model::posterior::layout::LOG_SH;

/// Share of the season's emergence before and after which hours speak of the peak day instead of today.
const HOURS_FROM: f64 = 0.01;

impl Context<'_> {
    /// The weather forecast for the season's days, at the hours of duns and of spinners; `None` without one.
    pub(super) fn weather(&self, model: &FittedTaxon) -> Option<SeasonWeather> {
        let forecast = self.known.water.weather.get(&self.reach.slug)?;
        let taxon = self.known.taxa.iter().find(|t| t.slug == *self.taxon)?;
        let theta = &heaviest(model, &model.weights)?.fit.mean;
        let dun_hour = |day: usize| prior::peak_hour(theta, self.water_c(day));
        let offset_hours = model.flight.as_ref().map(FlightFit::offset_hours);
        Some(forecast.season(self.season, self.reach, taxon, dun_hour, offset_hours))
    }

    /// The weather at sunset of the day that is spoken of as today.
    pub(super) fn evening(&self) -> Option<EveningWeather> {
        let today = self.request.as_of.unwrap_or(self.request.today);
        self.known.water.weather.get(&self.reach.slug)?.at_sunset(self.reach, today)
    }

    /// The water by the hour, from the day that is spoken of as today on.
    pub(super) fn water_hours(&self) -> Option<WaterHours> {
        let today = self.request.as_of.unwrap_or(self.request.today);
        water_hours::of(self.known, self.reach, self.season, self.water, today)
    }

    /// Middle of the water of the day of index `day`, degrees Celsius.
    fn water_c(&self, day: usize) -> f64 {
        self.water.daily[day].map_or(REFERENCE_WATER_C, |q| q.p50)
    }

    /// The date spoken of: today while between 1 and 99 % of the season have emerged `lag` days before, else
    /// the peak's.
    fn date_spoken_of(&self, drawn: &SeasonForecast, peak: Option<NaiveDate>, lag: usize) -> Option<NaiveDate> {
        let today = self.request.as_of.unwrap_or(self.request.today);
        let number = self.season.day_number(today - Days::new(lag as u64));
        let running = usize::try_from(number - 1)
            .ok()
            .and_then(|day| drawn.cumulative.get(day))
            .is_some_and(|done| (HOURS_FROM..=1.0 - HOURS_FROM).contains(done));
        if running { Some(today) } else { peak.map(|date| date + Days::new(lag as u64)) }
    }

    /// The spinner flight of today while they fly, of the peak otherwise.
    pub(super) fn spinner(
        &self,
        model: &FittedTaxon,
        drawn: &SeasonForecast,
        peak: Option<NaiveDate>,
    ) -> Option<Flight> {
        let flight = model.flight.as_ref()?;
        let taxon = self.known.taxa.iter().find(|t| t.slug == *self.taxon)?;
        let date = self.date_spoken_of(drawn, peak, flight.lag_days)?;
        let anchor = flights::anchor_hour(flights::habit(taxon)?.anchor, self.reach, date)?;
        let (middle, spread) = (anchor + flight.offset_hours(), flight.spread_hours());
        let at = |hour: f64| self.local_time(date, hour);
        let hours = HourWindow { date, from: at(middle - spread), peak: at(middle), to: at(middle + spread) };
        let chance = *drawn.flights.get(self.day_in_season(date).max(1) - 1)?;
        Some(Flight { hours, chance })
    }

    /// Today's hours while the season runs, the peak day's otherwise.
    ///
    /// The hour goes by the day's mean water, as it does in the fit: not by that of the hour itself.
    pub(super) fn hours(
        &self,
        model: &FittedTaxon,
        drawn: &SeasonForecast,
        peak: Option<NaiveDate>,
    ) -> Option<HourWindow> {
        if !model.hours_known {
            return None;
        }
        let date = self.date_spoken_of(drawn, peak, 0)?;
        let day = self.day_in_season(date).max(1) - 1;
        let theta = &heaviest(model, &drawn.weights)?.fit.mean;
        let water_c = self.water_c(day);
        let expected = |water_c: f64| prior::peak_hour(theta, water_c);
        let shift = self.now.at(self.site).map_or(0.0, |site| site.hour_shift(day + 1, expected));
        let peak_hour = expected(water_c) + shift;
        let spread = theta[LOG_SH].exp();
        let at = |hour: f64| self.local_time(date, hour);
        Some(HourWindow { date, from: at(peak_hour - spread), peak: at(peak_hour), to: at(peak_hour + spread) })
    }

    /// Clock time of a local mean solar hour, to the nearest five minutes.
    fn local_time(&self, date: NaiveDate, solar_hour: f64) -> NaiveTime {
        let minutes = utc_min_of_mean_solar_hour(solar_hour, self.reach.longitude);
        let rounded = (minutes / 5.0).round() * 5.0;
        let at = date.and_time(NaiveTime::MIN).and_utc() + TimeDelta::minutes(rounded as i64);
        at.with_timezone(&self.known.watershed.time_zone).time()
    }
}

/// The clock with most weight.
fn heaviest<'a>(model: &'a FittedTaxon, weights: &[f64; 4]) -> Option<&'a Member> {
    let clock = (0..4).max_by(|&a, &b| weights[a].total_cmp(&weights[b]))?;
    model.member(ClockKind::WORDS[clock].0)
}
