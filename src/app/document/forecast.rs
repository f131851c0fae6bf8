//! The forecast document: one reach, taxon, brood and season.
//!
//! It is published as JSON text and read back from it, so that pages, feeds, the interface and the
//! commands all speak from the same value.

use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

pub use super::forecast_parts::{
    CautionDocument, ClassProbabilities, ClockDocument, DateQuantilesDocument, DayDocument, EveningDocument,
    FitReference, HoursDocument, MilestoneDocument, ProgressDocument, QuantilesDocument, SpinnerDocument,
    WeightsDocument,
};
pub use super::water_hours::{WaterDayDocument, WaterHoursDocument};
use crate::domain::forecast::{DateQuantiles, Forecast};
use crate::say;
use crate::words::Language;

/// Forecast of one taxon and brood on one reach for one season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ForecastDocument {
    /// Watershed slug.
    #[schema(example = "ostrey")]
    pub watershed: String,
    /// Reach slug.
    #[schema(example = "mill-meadow")]
    pub reach: String,
    /// Taxon slug.
    #[schema(example = "ephemera-danica")]
    pub taxon: String,
    /// Brood (generation of the year), from 1.
    pub brood: u8,
    /// Year the season is named after.
    pub season: i32,
    /// IANA time zone of all dates and hours.
    #[schema(example = "Europe/London")]
    pub time_zone: String,
    /// When it was computed.
    pub issued_at: DateTime<Utc>,
    /// Last day whose data it used.
    pub data_as_of: NaiveDate,
    /// True when the newest reading is older than allowed.
    pub stale: bool,
    /// What the emergence curve runs on.
    pub clock: ClockDocument,
    /// Dates on which records would show 5, 10, 50, 90 and 95 % of the season's emergence.
    pub milestones: Vec<MilestoneDocument>,
    /// Day of largest expected share.
    pub peak: DateQuantilesDocument,
    /// Thermal progress of the season.
    pub progress: ProgressDocument,
    /// Days asked for.
    pub days: Vec<DayDocument>,
    /// Hours of emergence on one date.
    #[schema(required)]
    pub hours: Option<HoursDocument>,
    /// Spinner flight; null where nothing is known about it.
    #[schema(required)]
    pub spinner: Option<SpinnerDocument>,
    /// The fit behind it.
    pub fit: FitReference,
    /// What to mind.
    pub cautions: Vec<CautionDocument>,
    /// Where the water temperatures come from, in words; null without any.
    #[serde(default)]
    #[schema(required)]
    pub water_words: Option<String>,
    /// The same in other languages, by their tags (BCP 47); left out where there are none.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub water_words_translations: BTreeMap<String, String>,
    /// Weather at sunset of today, where a service forecasts it.
    #[serde(default)]
    #[schema(required)]
    pub evening: Option<EveningDocument>,
    /// Water by the hour, today and the seven days after it as far as they are in the season; null without water, and
    /// in forecasts made before this was told.
    #[serde(default)]
    #[schema(required)]
    pub water_hours: Option<WaterHoursDocument>,
}

impl From<&Forecast> for ForecastDocument {
    fn from(forecast: &Forecast) -> Self {
        Self::with_days(forecast, |_| true)
    }
}

impl ForecastDocument {
    /// Dates on which 5 % of the season's emergence is reached.
    #[must_use]
    pub fn onset(&self) -> DateQuantiles {
        self.milestones.first().map(MilestoneDocument::dates).unwrap_or_default()
    }

    /// Dates on which 95 % of the season's emergence is reached.
    #[must_use]
    pub fn end(&self) -> DateQuantiles {
        self.milestones.last().map(MilestoneDocument::dates).unwrap_or_default()
    }

    /// The day of that date.
    #[must_use]
    pub fn day(&self, date: NaiveDate) -> Option<&DayDocument> {
        let first = self.days.first()?.date;
        let index = usize::try_from((date - first).num_days()).ok()?;
        // Days follow each other without gaps; a published document that broke this is searched.
        match self.days.get(index) {
            Some(day) if day.date == date => Some(day),
            _ => self.days.iter().find(|day| day.date == date),
        }
    }

    /// A copy with only those days that `keep` accepts.
    #[must_use]
    pub fn cut(&self, keep: impl Fn(NaiveDate) -> bool) -> Self {
        let days = self.days.iter().filter(|day| keep(day.date)).cloned().collect();
        Self { days, ..self.clone_without_days() }
    }

    /// Where the water temperatures come from, in `language` where it was said in it.
    #[must_use]
    pub fn water_words_in(&self, language: Language) -> Option<&str> {
        self.water_words_translations.get(language.tag()).or(self.water_words.as_ref()).map(String::as_str)
    }

    /// In which weather the chance of the spinner flight holds, in words.
    #[must_use]
    pub fn weather_of_flight(&self, language: Language) -> String {
        let told = self.evening.as_ref().filter(|evening| evening.wind_kmh.is_some()).map(|evening| evening.date);
        if self.spinner.as_ref().is_some_and(|flight| told == Some(flight.date)) {
            say!(language, "flight-by-weather")
        } else {
            say!(language, "flight-in-calm")
        }
    }

    fn clone_without_days(&self) -> Self {
        Self {
            watershed: self.watershed.clone(),
            reach: self.reach.clone(),
            taxon: self.taxon.clone(),
            brood: self.brood,
            season: self.season,
            time_zone: self.time_zone.clone(),
            issued_at: self.issued_at,
            data_as_of: self.data_as_of,
            stale: self.stale,
            clock: self.clock.clone(),
            milestones: self.milestones.clone(),
            peak: self.peak,
            progress: self.progress,
            days: Vec::new(),
            hours: self.hours.clone(),
            spinner: self.spinner.clone(),
            fit: self.fit.clone(),
            cautions: self.cautions.clone(),
            water_words: self.water_words.clone(),
            water_words_translations: self.water_words_translations.clone(),
            evening: self.evening.clone(),
            water_hours: self.water_hours.clone(),
        }
    }

    /// The document with only those days that `keep` accepts.
    #[must_use]
    pub fn with_days(forecast: &Forecast, keep: impl Fn(NaiveDate) -> bool) -> Self {
        Self {
            watershed: forecast.watershed.to_string(),
            reach: forecast.reach.to_string(),
            taxon: forecast.taxon.to_string(),
            brood: forecast.brood,
            season: forecast.season,
            time_zone: forecast.time_zone.name().to_owned(),
            issued_at: forecast.issued_at,
            data_as_of: forecast.data_as_of,
            stale: forecast.stale,
            clock: ClockDocument {
                chosen: forecast.chosen_clock().into(),
                weights: forecast.weights.into(),
                beats_calendar: forecast.beats_calendar,
            },
            milestones: forecast.milestones.iter().map(Into::into).collect(),
            peak: forecast.peak.into(),
            progress: forecast.progress.into(),
            days: forecast.days.iter().filter(|day| keep(day.date)).map(Into::into).collect(),
            hours: forecast.hours.map(Into::into),
            spinner: forecast.spinner.map(SpinnerDocument::from),
            fit: FitReference {
                id: forecast.fit_id,
                records: forecast.fit_records,
                years: forecast.fit_years,
                prior_driven: forecast.prior_driven,
            },
            cautions: forecast.cautions.iter().map(Into::into).collect(),
            water_words: forecast.water_words.as_ref().map(|said| said.english.clone()),
            water_words_translations: forecast.water_words.as_ref().map(|said| said.others.clone()).unwrap_or_default(),
            evening: forecast.evening.map(EveningDocument::from),
            water_hours: forecast.water_hours.as_ref().map(WaterHoursDocument::from),
        }
    }
}
