//! The pieces of a forecast document.

use std::borrow::Cow;
use std::collections::BTreeMap;

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::time::hours_minutes;
use crate::domain::air::{EveningWeather, WeatherHour};
use crate::domain::forecast::{
    Caution, DateQuantiles, Flight, ForecastDay, HourWindow, Milestone, Progress, Quantiles,
};
use crate::words::Language;

/// The clock behind a forecast.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClockDocument {
    /// `calendar`, `thermal`, `photothermal`, `gated`, or `stack` for a mixture.
    #[schema(example = "stack")]
    pub chosen: Cow<'static, str>,
    /// Weights of the four clocks, sum 1.
    pub weights: WeightsDocument,
    /// Left-out log score better than the best calendar by more than one standard error.
    pub beats_calendar: bool,
}

/// Weights of the four clocks, sum 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WeightsDocument {
    /// Days.
    pub calendar: f64,
    /// Degree-days of the water.
    pub thermal: f64,
    /// Degree-days weighted by day length.
    pub photothermal: f64,
    /// Degree-days behind a day-length gate.
    pub gated: f64,
}

impl From<[f64; 4]> for WeightsDocument {
    fn from([calendar, thermal, photothermal, gated]: [f64; 4]) -> Self {
        Self { calendar, thermal, photothermal, gated }
    }
}

/// 10, 50 and 90 % quantiles of a date; null where the share is not reached within the season.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DateQuantilesDocument {
    /// 10 %.
    #[schema(required)]
    pub p10: Option<NaiveDate>,
    /// 50 %.
    #[schema(required)]
    pub p50: Option<NaiveDate>,
    /// 90 %.
    #[schema(required)]
    pub p90: Option<NaiveDate>,
}

impl From<DateQuantilesDocument> for DateQuantiles {
    fn from(q: DateQuantilesDocument) -> Self {
        Self { p10: q.p10, p50: q.p50, p90: q.p90 }
    }
}

impl From<DateQuantiles> for DateQuantilesDocument {
    fn from(q: DateQuantiles) -> Self {
        Self { p10: q.p10, p50: q.p50, p90: q.p90 }
    }
}

/// Date on which records would show a share of the season's emergence.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct MilestoneDocument {
    /// 0.05, 0.10, 0.50, 0.90 or 0.95.
    #[schema(example = 0.5)]
    pub share: f64,
    /// 10 %.
    #[schema(required)]
    pub p10: Option<NaiveDate>,
    /// 50 %.
    #[schema(required)]
    pub p50: Option<NaiveDate>,
    /// 90 %.
    #[schema(required)]
    pub p90: Option<NaiveDate>,
}

impl MilestoneDocument {
    /// Its quantiles.
    #[must_use]
    pub fn dates(&self) -> DateQuantiles {
        DateQuantiles { p10: self.p10, p50: self.p50, p90: self.p90 }
    }
}

impl From<&Milestone> for MilestoneDocument {
    fn from(m: &Milestone) -> Self {
        Self { share: m.share, p10: m.dates.p10, p50: m.dates.p50, p90: m.dates.p90 }
    }
}

/// Progress on the clock that carries most weight.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ProgressDocument {
    /// Clock units so far: degree-days, or days for the calendar.
    pub units_so_far: f64,
    /// The same on this date in the mean climate.
    pub long_run_mean: f64,
    /// Days ahead (positive) or behind the mean climate.
    pub thermal_lead_days: f64,
}

impl From<Progress> for ProgressDocument {
    fn from(p: Progress) -> Self {
        Self { units_so_far: p.units_so_far, long_run_mean: p.long_run_mean, thermal_lead_days: p.thermal_lead_days }
    }
}

/// Chances of what one person would see, watching the two hours around the day's expected peak
/// hour at usual flow and cloud; sum 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ClassProbabilities {
    /// None seen.
    pub none: f64,
    /// Some in ten minutes.
    pub sparse: f64,
    /// Always a few in view.
    pub moderate: f64,
    /// More than one can count.
    pub heavy: f64,
}

impl ClassProbabilities {
    /// None, sparse, moderate, heavy.
    #[must_use]
    pub fn to_array(self) -> [f64; 4] {
        [self.none, self.sparse, self.moderate, self.heavy]
    }

    /// Mean class index, 0 none to 3 heavy.
    #[must_use]
    pub fn mean_index(self) -> f64 {
        self.sparse + 2.0 * self.moderate + 3.0 * self.heavy
    }
}

impl From<[f64; 4]> for ClassProbabilities {
    fn from([none, sparse, moderate, heavy]: [f64; 4]) -> Self {
        Self { none, sparse, moderate, heavy }
    }
}

/// Quantiles of a day's water temperature, degrees Celsius.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct QuantilesDocument {
    /// 10 %.
    pub p10: f64,
    /// 50 %.
    pub p50: f64,
    /// 90 %.
    pub p90: f64,
}

impl From<Quantiles> for QuantilesDocument {
    fn from(q: Quantiles) -> Self {
        Self { p10: q.p10, p50: q.p50, p90: q.p90 }
    }
}

/// One day of a forecast.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct DayDocument {
    /// Local civil date.
    pub date: NaiveDate,
    /// Expected share of the season's emergence on this day.
    pub share: f64,
    /// Expected share completed by the end of this day.
    pub cumulative: f64,
    /// Chances of the four classes.
    pub class_probabilities: ClassProbabilities,
    /// What they rest on: `visits`, `counts` or `prior`.
    #[schema(example = "visits")]
    pub basis: Cow<'static, str>,
    /// Water temperature; null without any.
    #[schema(required)]
    pub water_c: Option<QuantilesDocument>,
    /// How that came about: `measured`; estimated over a short `gap`, from one other `gauge`, from the `gauges`
    /// together, `between` two of them, from the `air`; or still to come, `ahead` from past years or
    /// `ahead-with-air` from a forecast of the air. Null without any, and in forecasts made before this was told.
    #[serde(default)]
    #[schema(required, example = "measured")]
    pub water_basis: Option<Cow<'static, str>>,
    /// Standard error of the day's mean, degrees Celsius; 0 for a measured day.
    #[serde(default)]
    #[schema(required, example = 0.4)]
    pub water_error_c: Option<f64>,
    /// Chance of at least a sparse spinner flight, for one person watching the two hours around its middle, in the
    /// weather forecast where there is one for the day and in usual weather otherwise. Null where nothing is known of
    /// flights, and in forecasts made before this was told.
    #[serde(default)]
    #[schema(required, example = 0.62)]
    pub spinner_chance: Option<f64>,
}

impl From<&ForecastDay> for DayDocument {
    fn from(day: &ForecastDay) -> Self {
        Self {
            date: day.date,
            share: day.share,
            cumulative: day.cumulative,
            class_probabilities: day.class_probabilities.into(),
            basis: day.basis.as_str().into(),
            water_c: day.water_c.map(Into::into),
            water_basis: day.water_from.map(|from| from.basis.as_str().into()),
            water_error_c: day.water_from.map(|from| from.error_c),
            spinner_chance: day.flight_chance,
        }
    }
}

/// Likely hours of emergence, local clock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct HoursDocument {
    /// Date spoken of.
    pub date: NaiveDate,
    /// Start.
    #[schema(example = "13:00", pattern = "^[0-2][0-9]:[0-5][0-9]$")]
    pub from: String,
    /// Likeliest.
    #[schema(example = "15:00", pattern = "^[0-2][0-9]:[0-5][0-9]$")]
    pub peak: String,
    /// End.
    #[schema(example = "17:30", pattern = "^[0-2][0-9]:[0-5][0-9]$")]
    pub to: String,
}

impl HoursDocument {
    /// Start, likeliest and end as clock times; `None` when one is not `HH:MM`.
    #[must_use]
    pub fn times(&self) -> Option<[NaiveTime; 3]> {
        let read = |text: &str| NaiveTime::parse_from_str(text, "%H:%M").ok();
        Some([read(&self.from)?, read(&self.peak)?, read(&self.to)?])
    }
}

impl From<HourWindow> for HoursDocument {
    fn from(window: HourWindow) -> Self {
        Self {
            date: window.date,
            from: hours_minutes(window.from),
            peak: hours_minutes(window.peak),
            to: hours_minutes(window.to),
        }
    }
}

/// Spinner flight on one date.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct SpinnerDocument {
    /// Date spoken of.
    pub date: NaiveDate,
    /// Start, local `HH:MM`.
    pub from: String,
    /// Likeliest, local `HH:MM`.
    pub peak: String,
    /// End, local `HH:MM`.
    pub to: String,
    /// Chance of a flight.
    pub chance: f64,
}

impl From<Flight> for SpinnerDocument {
    fn from(flight: Flight) -> Self {
        let HourWindow { date, from, peak, to } = flight.hours;
        let (from, peak, to) = (hours_minutes(from), hours_minutes(peak), hours_minutes(to));
        Self { date, from, peak, to, chance: flight.chance }
    }
}

/// The weather at sunset of a day, as a service forecasts it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct EveningDocument {
    /// The day.
    pub date: NaiveDate,
    /// When the forecast was made.
    pub made_at: DateTime<Utc>,
    /// Air, degrees Celsius.
    pub air_c: f64,
    /// Wind, km/h; null where the service does not say.
    #[schema(required)]
    pub wind_kmh: Option<f64>,
    /// Share of the sky under clouds, 0 to 1; null where the service does not say.
    #[schema(required)]
    pub cloud: Option<f64>,
    /// Rain within an hour, mm; null where the service does not say.
    #[schema(required)]
    pub rain_mm: Option<f64>,
}

impl From<EveningWeather> for EveningDocument {
    fn from(evening: EveningWeather) -> Self {
        let WeatherHour { air_c, wind_kmh, cloud, rain_mm, .. } = evening.hour;
        Self { date: evening.date, made_at: evening.made_at, air_c, wind_kmh, cloud, rain_mm }
    }
}

/// The fit behind a forecast.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct FitReference {
    /// Identifier.
    pub id: Uuid,
    /// Records it saw.
    pub records: u32,
    /// Years with records.
    pub years: u32,
    /// True when the data were too few to leave the prior.
    pub prior_driven: bool,
}

/// A caution.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct CautionDocument {
    /// Stable short code.
    #[schema(example = "wading")]
    pub code: Cow<'static, str>,
    /// What to mind.
    pub text: String,
    /// The same in other languages, by their tags (BCP 47); left out where there are none.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub translations: BTreeMap<String, String>,
    /// Where it comes from.
    pub source: Cow<'static, str>,
}

impl From<&Caution> for CautionDocument {
    fn from(caution: &Caution) -> Self {
        Self {
            code: caution.code.into(),
            text: caution.text.english.clone(),
            translations: caution.text.others.clone(),
            source: caution.source.into(),
        }
    }
}

impl CautionDocument {
    /// What to mind, in `language` where it was said in it.
    #[must_use]
    pub fn text_in(&self, language: Language) -> &str {
        self.translations.get(language.tag()).unwrap_or(&self.text)
    }
}

#[cfg(test)]
mod tests {
    use super::DayDocument;

    #[test]
    fn a_day_stored_before_flights_were_told_by_day_is_read() {
        let old = r#"{"date":"2026-05-20","share":0.1,"cumulative":0.5,"class_probabilities":
            {"none":0.1,"sparse":0.2,"moderate":0.3,"heavy":0.4},"basis":"visits","water_c":null}"#;
        let day: DayDocument = serde_json::from_str(old).expect("reads");
        assert_eq!((day.spinner_chance, day.water_basis), (None, None));
        let told = old.replace("\"share\"", "\"spinner_chance\":0.25,\"share\"");
        let day: DayDocument = serde_json::from_str(&told).expect("reads");
        assert_eq!(day.spinner_chance, Some(0.25));
    }
}
