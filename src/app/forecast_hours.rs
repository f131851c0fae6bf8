//! Hours of a forecast: of emergence, and of spinner flights.

use chrono::{Days, NaiveDate, NaiveTime, TimeDelta};

use super::flights;
use super::forecast::Context;
use crate::domain::fit::ClockKind;
use crate::domain::forecast::{Flight, HourWindow};
use crate::model::daylength::utc_min_of_mean_solar_hour;
use crate::model::emergence::{FittedTaxon, SeasonForecast, prior};
use crate::model::posterior::layout::LOG_SH;

/// Share of the season's emergence before and after which hours speak of the peak day instead of today.
const HOURS_FROM: f64 = 0.01;

impl Context<'_> {
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
        let heaviest = (0..4).max_by(|&a, &b| drawn.weights[a].total_cmp(&drawn.weights[b]))?;
        let theta = &model.member(ClockKind::WORDS[heaviest].0)?.fit.laplace.mode;
        let water_c = self.water.daily[day].map_or(12.0, |q| q.p50);
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
