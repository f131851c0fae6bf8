//! Water by the hour in a forecast document.

use std::borrow::Cow;
use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveTime, Timelike as _};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::domain::water_hours::{HoursBasis, WaterDay, WaterHour, WaterHours};
use crate::words::Language;

/// Water by the hour, made from the days' means by the course of a usual day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WaterHoursDocument {
    /// Where the course comes from, in words.
    #[schema(example = "Hours by the usual day of July at gauge upper.")]
    pub words: String,
    /// The same in other languages, by their tags (BCP 47); left out where there are none.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub words_translations: BTreeMap<String, String>,
    /// Days in order, today the first.
    pub days: Vec<WaterDayDocument>,
}

/// Water of the 24 hours of one day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WaterDayDocument {
    /// Local civil date.
    pub date: NaiveDate,
    /// What the hours rest on: `measured` all of them; else the usual day of the month from the reach's `own-days`,
    /// from those of an `other-gauge`, or the `common-course` of streams.
    #[schema(example = "own-days")]
    pub basis: Cow<'static, str>,
    /// Mean of each hour of the local clock from midnight on, degrees Celsius.
    #[schema(min_items = 24, max_items = 24)]
    pub water_c: Vec<f64>,
    /// Standard error of each, degrees Celsius; 0 for an hour that was measured.
    #[schema(min_items = 24, max_items = 24)]
    pub error_c: Vec<f64>,
}

/// The water of one hour.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct WaterHourDocument {
    /// Mean of the hour, degrees Celsius.
    #[schema(example = 14.2)]
    pub water_c: f64,
    /// Its standard error, degrees Celsius; 0 where it was measured.
    #[schema(example = 0.7)]
    pub error_c: f64,
    /// What it rests on, as in `water_hours` of a forecast.
    #[schema(example = "own-days")]
    pub basis: Cow<'static, str>,
}

impl WaterHoursDocument {
    /// Where the course comes from, in `language` where it was said in it.
    #[must_use]
    pub fn words_in(&self, language: Language) -> &str {
        self.words_translations.get(language.tag()).unwrap_or(&self.words)
    }

    /// The day of that date.
    #[must_use]
    pub fn day(&self, date: NaiveDate) -> Option<&WaterDayDocument> {
        self.days.iter().find(|day| day.date == date)
    }
}

impl WaterDayDocument {
    /// The hours from midnight on, with the hour of the clock.
    pub fn hours(&self) -> impl Iterator<Item = (u32, WaterHour)> + Clone {
        let hours = self.water_c.iter().zip(&self.error_c);
        (0..).zip(hours.map(|(&water_c, &error_c)| WaterHour { water_c, error_c }))
    }

    /// The hour in which `time` lies.
    #[must_use]
    pub fn at(&self, time: NaiveTime) -> Option<WaterHourDocument> {
        let (_, WaterHour { water_c, error_c }) = self.hours().find(|(hour, _)| *hour == time.hour())?;
        let basis = if error_c > 0.0 { self.basis.clone() } else { HoursBasis::Measured.as_str().into() };
        Some(WaterHourDocument { water_c, error_c, basis })
    }

    /// The coolest and the warmest hour, the earlier ones of equals.
    #[must_use]
    pub fn ends(&self) -> Option<((u32, WaterHour), (u32, WaterHour))> {
        let cooler = |a: (u32, WaterHour), b: (u32, WaterHour)| if b.1.water_c < a.1.water_c { b } else { a };
        let warmer = |a: (u32, WaterHour), b: (u32, WaterHour)| if b.1.water_c > a.1.water_c { b } else { a };
        Some((self.hours().reduce(cooler)?, self.hours().reduce(warmer)?))
    }
}

/// Hundredths of a degree are finer than any logger.
fn hundredths(c: f64) -> f64 {
    (100.0 * c).round() / 100.0
}

impl From<&WaterDay> for WaterDayDocument {
    fn from(day: &WaterDay) -> Self {
        // An error that is not zero stays so: zero says measured.
        let error = |hour: &WaterHour| if hour.error_c > 0.0 { hundredths(hour.error_c).max(0.01) } else { 0.0 };
        Self {
            date: day.date,
            basis: day.basis.as_str().into(),
            water_c: day.hours.iter().map(|hour| hundredths(hour.water_c)).collect(),
            error_c: day.hours.iter().map(error).collect(),
        }
    }
}

impl From<&WaterHours> for WaterHoursDocument {
    fn from(hours: &WaterHours) -> Self {
        Self {
            words: hours.words.english.clone(),
            words_translations: hours.words.others.clone(),
            days: hours.days.iter().map(WaterDayDocument::from).collect(),
        }
    }
}
