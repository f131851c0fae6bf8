//! Guidance for one moment on one reach, from the published forecasts and the traits.

use std::sync::Arc;

use chrono::{DateTime, Days, Duration, DurationRound, NaiveDate, NaiveTime, TimeDelta, Timelike, Utc};
use chrono_tz::Tz;

use super::document::forecast::{CautionDocument, WaterDayDocument};
use super::document::forecast_parts::{DayDocument, HoursDocument};
use super::document::guidance::Speaker;
use super::document::{Faults, ForecastDocument, GuidanceDocument, Rule};
use super::said::said;
use super::{AppError, Service, WatershedView, cautions, flights, forecasts};
use crate::domain::air::WeatherHour;
use crate::domain::flight::{Anchor, FlightHabit};
use crate::domain::forecast::Caution;
use crate::domain::season::WhichSeason;
use crate::domain::{Condition, Reach, Sign, Slug, Taxon};
use crate::model::daylength::{CIVIL_DEPRESSION_DEG, Daylight, daylight, mean_solar_hour};
use crate::model::guidance::{Candidate, ExpectedFlight, Moment, Window, advise};
use crate::words::Language;

/// The present is told to this many minutes, so that one answer serves all who ask within them.
const STEP_MIN: i64 = 5;
/// Hours before and after sunset of which the weather at sunset speaks (our limit).
const EVENING_H: f64 = 3.0;
/// Spread of emergence hours that only a trait tells, hours, where it names none.
const TRAIT_SPREAD_H: f64 = 2.0;

/// A question for guidance.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct GuidanceQuery {
    /// The moment; default now.
    pub at: Option<DateTime<Utc>>,
    /// Only these taxa; empty means all.
    pub taxa: Vec<Slug>,
    /// Signs from the bank.
    pub signs: Vec<Sign>,
    /// What weather and water are like there.
    pub conditions: Vec<Condition>,
    /// The language of its words.
    pub language: Language,
}

/// What `query` is answered on `reach` of `view`.
///
/// # Errors
/// A fault for each taxon that does not live there; [`AppError::Store`].
pub async fn guidance(
    service: &Service,
    view: &WatershedView,
    reach: &Reach,
    query: &GuidanceQuery,
) -> Result<GuidanceDocument, AppError> {
    let mut faults = Faults::default();
    for slug in query.taxa.iter().filter(|slug| !view.taxa.iter().any(|taxon| taxon.slug == **slug)) {
        faults.add_broken("taxon", Rule::TaxonHere(slug.clone()));
    }
    if !faults.is_empty() {
        return Err(AppError::Query(faults));
    }
    let zone = view.watershed.time_zone;
    let at = query.at.unwrap_or_else(|| present(service, zone));
    let date = at.with_timezone(&zone).date_naive();
    let season = WhichSeason::On(date);
    let published = forecasts::published(service, view, std::slice::from_ref(&reach.slug), season).await?;
    let here = Here { at, zone, date, reach };
    let mut candidates = here.candidates(view, &published);
    candidates.retain(|one| query.taxa.is_empty() || query.taxa.contains(&one.taxon.slug));
    let dark = here.is_dark();
    let moment = Moment {
        water: reach.water_type,
        dark,
        signs: query.signs.clone(),
        here: query.conditions.clone(),
        forecast: here.forecast_conditions(&published, dark),
    };
    let place = (view.watershed.slug.to_string(), reach.slug.to_string());
    let (time, water_day) = (at.with_timezone(&zone).time(), water_of(&published, date));
    let to_mind = to_mind(&published, date, water_day.and_then(|day| cautions::at_hour(day, time)).as_ref());
    let water = water_day.and_then(|day| day.at(time));
    let speaker = Speaker { language: query.language, taxa: &view.taxa };
    Ok(GuidanceDocument::new(place, at, advise(&candidates, &moment), water, to_mind, speaker))
}

/// Guidance for the hour of today at which most is expected on `reach`; for now where no hours are forecast.
///
/// # Errors
/// [`AppError::Store`].
pub async fn guidance_of_today(
    service: &Service,
    view: &WatershedView,
    reach: &Reach,
    language: Language,
) -> Result<GuidanceDocument, AppError> {
    let zone = view.watershed.time_zone;
    let today = service.today(zone);
    let season = WhichSeason::On(today);
    let published = forecasts::published(service, view, std::slice::from_ref(&reach.slug), season).await?;
    let expected = published.iter().filter_map(|forecast| {
        let [_, peak, _] = forecast.hours.as_ref()?.times()?;
        Some((forecast.day(today)?.class_probabilities.mean_index(), peak))
    });
    let fullest = expected.max_by(|a, b| a.0.total_cmp(&b.0));
    let at = fullest.and_then(|(_, peak)| today.and_time(peak).and_local_timezone(zone).earliest());
    let query = GuidanceQuery { at: at.map(|at| at.with_timezone(&Utc)), language, ..GuidanceQuery::default() };
    guidance(service, view, reach, &query).await
}

/// Now by the clock, on the date shown as today.
pub(super) fn present(service: &Service, zone: Tz) -> DateTime<Utc> {
    let shown = on_date(service.now(), service.today(zone), zone);
    shown.duration_trunc(Duration::minutes(STEP_MIN)).unwrap_or(shown)
}

/// `now` by the clock on the wall in `zone`, on the date `today`.
fn on_date(now: DateTime<Utc>, today: NaiveDate, zone: Tz) -> DateTime<Utc> {
    let local = now.with_timezone(&zone);
    // Another date has another summer time: the clock on the wall is kept, not the time between.
    if local.date_naive() == today {
        return now;
    }
    let wall = today.and_time(local.time()).and_local_timezone(zone).earliest();
    wall.map_or(now + (today - local.date_naive()), |wall| wall.to_utc())
}

/// The water by the hour of `date`, where a forecast of the reach tells it.
pub(super) fn water_of(published: &[Arc<ForecastDocument>], date: NaiveDate) -> Option<&WaterDayDocument> {
    published.iter().find_map(|forecast| forecast.water_hours.as_ref()?.day(date))
}

/// The caution of the hour, the cautions of the reach's forecasts, each once, then those that always hold and are not said better.
fn to_mind(published: &[Arc<ForecastDocument>], date: NaiveDate, now: Option<&Caution>) -> Vec<CautionDocument> {
    let mut told: Vec<CautionDocument> = now.map(CautionDocument::from).into_iter().collect();
    for caution in published.iter().flat_map(|forecast| &forecast.cautions) {
        if !told.iter().any(|known| known.text == caution.text) {
            told.push(caution.clone());
        }
    }
    let standing = cautions::STANDING.iter().map(|(code, text, source)| CautionDocument {
        code: code.trim_end_matches('-').into(),
        text: (*text).to_owned(),
        translations: said(|language| language.of_table("caution", code, text)).others,
        source: (*source).into(),
    });
    let always = cautions::for_days(&[], &[], date);
    for caution in always.iter().map(CautionDocument::from).chain(standing) {
        if !told.iter().any(|known| known.code.starts_with(&*caution.code)) {
            told.push(caution);
        }
    }
    told
}

/// The moment on the reach.
pub(super) struct Here<'a> {
    pub(super) at: DateTime<Utc>,
    pub(super) zone: Tz,
    pub(super) date: NaiveDate,
    pub(super) reach: &'a Reach,
}

impl Here<'_> {
    /// The candidates of `published`, which are forecasts of the reach.
    pub(super) fn candidates<'t>(
        &self,
        view: &'t WatershedView,
        published: &[Arc<ForecastDocument>],
    ) -> Vec<Candidate<'t>> {
        let candidate = |forecast: &Arc<ForecastDocument>| {
            let taxon = view.taxa.iter().find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(&forecast.taxon))?;
            self.candidate(taxon, forecast)
        };
        published.iter().filter_map(candidate).collect()
    }

    /// The candidate of a forecast; `None` where it does not speak of the day.
    fn candidate<'t>(&self, taxon: &'t Taxon, forecast: &ForecastDocument) -> Option<Candidate<'t>> {
        let day = forecast.day(self.date)?;
        let told = forecast.hours.as_ref().and_then(HoursDocument::times).map(|times| self.window(times));
        let emergence = told.or_else(|| self.window_of_traits(taxon));
        Some(Candidate {
            taxon,
            classes: day.class_probabilities.to_array(),
            completed: day.cumulative,
            emergence,
            flight: self.flight(taxon, forecast),
        })
    }

    /// Hours of the local clock, seen from the moment.
    fn window(&self, [from, peak, to]: [NaiveTime; 3]) -> Window {
        let now = self.at.with_timezone(&self.zone).time();
        let hours = |time: NaiveTime| f64::from(time.num_seconds_from_midnight()) / 3600.0;
        let spread = 0.5 * (hours(to) - hours(from)).rem_euclid(24.0);
        Window { since_middle_h: around_noon(hours(now) - hours(peak)), spread_h: spread }
    }

    /// Hours of emergence that the traits tell, in local solar time.
    fn window_of_traits(&self, taxon: &Taxon) -> Option<Window> {
        let since = mean_solar_hour(self.at, self.reach.longitude) - taxon.peak_hour?;
        Some(Window { since_middle_h: around_noon(since), spread_h: taxon.peak_hour_sd.unwrap_or(TRAIT_SPREAD_H) })
    }

    /// The flight of the day: the forecast's, or what the words of the traits tell of its hour with the
    /// chance of any emergence when those that fly emerged.
    fn flight(&self, taxon: &Taxon, forecast: &ForecastDocument) -> Option<ExpectedFlight> {
        let habit = taxon.spinner_time.as_deref().and_then(FlightHabit::from_words);
        let emerged = |lag: usize| {
            let any = |day: &DayDocument| 1.0 - day.class_probabilities.none;
            forecast.day(self.date - Days::new(lag as u64)).map(any)
        };
        if let Some(spinner) = &forecast.spinner {
            let time = |text: &str| NaiveTime::parse_from_str(text, "%H:%M").ok();
            let window = self.window([time(&spinner.from)?, time(&spinner.peak)?, time(&spinner.to)?]);
            let chance =
                if spinner.date == self.date { spinner.chance } else { emerged(habit.map_or(1, |h| h.lag_days))? };
            return Some(ExpectedFlight { window, chance });
        }
        let habit = habit?;
        let middle = flights::anchor_hour(habit.anchor, self.reach, self.date)? + habit.offset_hours;
        let since = mean_solar_hour(self.at, self.reach.longitude) - middle;
        let window = Window { since_middle_h: around_noon(since), spread_h: habit.offset_sd_hours };
        Some(ExpectedFlight { window, chance: emerged(habit.lag_days)? })
    }

    /// What the evening's weather, which the forecasts carry, tells of the moment; nothing far from sunset, of which it
    /// speaks.
    fn forecast_conditions(&self, published: &[Arc<ForecastDocument>], dark: bool) -> Vec<Condition> {
        let near = self.hours_from_sunset().is_some_and(|hours| hours.abs() <= EVENING_H);
        let told = published.iter().filter_map(|forecast| forecast.evening.as_ref());
        let Some(evening) = told.filter(|evening| near && evening.date == self.date).max_by_key(|one| one.made_at)
        else {
            return Vec::new();
        };
        let hour = WeatherHour {
            at: self.at,
            air_c: evening.air_c,
            wind_kmh: evening.wind_kmh,
            cloud: evening.cloud,
            rain_mm: evening.rain_mm,
        };
        Condition::of_hour(&hour, dark)
    }

    /// Hours since sunset of the day, negative before it; `None` where the sun does not set.
    fn hours_from_sunset(&self) -> Option<f64> {
        let sunset = flights::anchor_hour(Anchor::Sunset, self.reach, self.date)?;
        Some(around_noon(mean_solar_hour(self.at, self.reach.longitude) - sunset))
    }

    /// True when the sun is below the edge of civil twilight.
    fn is_dark(&self) -> bool {
        let midnight = self.date.and_time(NaiveTime::MIN).and_utc();
        let since_midnight = |minutes: f64| midnight + TimeDelta::seconds((60.0 * minutes) as i64);
        match daylight(self.date, self.reach.latitude, self.reach.longitude, CIVIL_DEPRESSION_DEG) {
            Daylight::AlwaysLight => false,
            Daylight::AlwaysDark => true,
            Daylight::RiseAndSet { rise_utc_min, set_utc_min } => {
                self.at < since_midnight(rise_utc_min) || self.at > since_midnight(set_utc_min)
            }
        }
    }
}

/// A difference of hours on the clock face, -12 to 12.
fn around_noon(hours: f64) -> f64 {
    (hours + 12.0).rem_euclid(24.0) - 12.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_shown_as_today_keeps_the_clock_on_the_wall() {
        let zone = chrono_tz::Europe::London;
        let at = |text: &str| DateTime::parse_from_rfc3339(text).expect("a time").to_utc();
        let day = |month, day| NaiveDate::from_ymd_opt(2026, month, day).expect("a date");
        let winter = at("2026-01-15T18:02:00Z");
        assert_eq!(on_date(winter, day(1, 15), zone), winter);
        assert_eq!(on_date(winter, day(7, 1), zone), at("2026-07-01T17:02:00Z"), "18:02 in summer");
        assert_eq!(on_date(at("2026-07-01T17:02:00Z"), day(1, 15), zone), winter);
        // 01:30 does not exist on 29 March: an hour by the sun stands for it.
        assert_eq!(on_date(at("2026-01-15T01:30:00Z"), day(3, 29), zone), at("2026-03-29T01:30:00Z"));
    }
}
