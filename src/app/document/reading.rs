//! Water-temperature readings.

use chrono::{DateTime, NaiveDate, Utc};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::time::{optional_date, optional_instant};
use super::{Faults, Input};
use crate::domain::reading::{Quality, Reading, ReadingTime};

/// One reading: a local day with mean and extremes, or an instant.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReadingDocument {
    /// Local civil day, for daily readings.
    #[schema(required)]
    pub date: Option<NaiveDate>,
    /// Instant, for single readings.
    #[schema(required)]
    pub at: Option<DateTime<Utc>>,
    /// Daily mean or the single value, degrees Celsius.
    pub mean_c: f64,
    /// Daily minimum or the single value.
    pub min_c: f64,
    /// Daily maximum or the single value.
    pub max_c: f64,
    /// `good`, `suspect` or `bad`.
    #[schema(example = "good")]
    pub flag: &'static str,
    /// When we learned it.
    pub known_at: DateTime<Utc>,
    /// Where it came from: a service and station, a file, or the API.
    #[schema(example = "usgs:USGS-01420500")]
    pub source: String,
    /// What the source itself says of it, as sent, for example `Provisional`.
    pub qualifiers: Vec<String>,
}

impl From<&Reading> for ReadingDocument {
    fn from(reading: &Reading) -> Self {
        let (date, at, mean_c, min_c, max_c) = match reading.time {
            ReadingTime::Day { date, tmean_c, tmin_c, tmax_c } => (Some(date), None, tmean_c, tmin_c, tmax_c),
            ReadingTime::Instant { at, value_c } => (None, Some(at), value_c, value_c, value_c),
        };
        Self {
            date,
            at,
            mean_c,
            min_c,
            max_c,
            flag: reading.quality.as_str(),
            known_at: reading.known_at,
            source: reading.source.clone(),
            qualifiers: reading.qualifiers.clone(),
        }
    }
}

/// Readings to add to one gauge: all are stored or none.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct ReadingsInput {
    /// Up to 1000 readings.
    #[garde(required, length(min = 1, max = 1000), dive)]
    #[schema(value_type = Vec<ReadingInput>, min_items = 1, max_items = 1000)]
    pub readings: Option<Vec<ReadingInput>>,
}

/// One reading: `date` with `tmean_c`, or `at` with `value_c`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct ReadingInput {
    /// Local civil day.
    #[serde(deserialize_with = "optional_date")]
    #[garde(skip)]
    pub date: Option<NaiveDate>,
    /// Daily mean, degrees Celsius.
    #[garde(skip)]
    #[schema(minimum = -60, maximum = 100)]
    pub tmean_c: Option<f64>,
    /// Daily minimum, degrees Celsius.
    #[garde(skip)]
    #[schema(minimum = -60, maximum = 100)]
    pub tmin_c: Option<f64>,
    /// Daily maximum, degrees Celsius.
    #[garde(skip)]
    #[schema(minimum = -60, maximum = 100)]
    pub tmax_c: Option<f64>,
    /// Instant.
    #[serde(deserialize_with = "optional_instant")]
    #[garde(skip)]
    pub at: Option<DateTime<Utc>>,
    /// Value at the instant, degrees Celsius.
    #[garde(skip)]
    #[schema(minimum = -60, maximum = 100)]
    pub value_c: Option<f64>,
    /// `good`, `suspect` or `bad`; `good` when left out.
    #[garde(skip)]
    #[schema(pattern = "^(good|suspect|bad)$")]
    pub flag: Option<String>,
}

/// A checked reading on its way to a gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NewReading {
    /// What it states.
    pub time: ReadingTime,
    /// The sender's flag.
    pub flag: Quality,
}

impl Input for ReadingsInput {
    type Domain = Vec<NewReading>;

    fn into_domain(self, faults: &mut Faults) -> Option<Vec<NewReading>> {
        let mut checked = Vec::new();
        for (index, reading) in self.readings?.into_iter().enumerate() {
            let at = |field: &str| format!("#/readings/{index}/{field}");
            let flag = match reading.flag {
                None => Some(Quality::Good),
                Some(text) => faults.check(&at("flag"), Quality::parse(&text)),
            };
            let daily = reading.tmean_c.is_some() || reading.tmin_c.is_some() || reading.tmax_c.is_some();
            let time = match (reading.date, reading.at) {
                (Some(_), Some(_)) => {
                    faults.add(at("at"), "exclusive", "must not stand beside date");
                    None
                }
                (None, None) => {
                    faults.add(at("date"), "missing", "date or at is required");
                    None
                }
                (Some(_), None) if reading.value_c.is_some() => {
                    faults.add(at("value_c"), "exclusive", "belongs to at; a day takes tmean_c");
                    None
                }
                (None, Some(_)) if daily => {
                    faults.add(at("at"), "exclusive", "takes value_c, not tmean_c, tmin_c or tmax_c");
                    None
                }
                (Some(date), None) => match reading.tmean_c {
                    None => {
                        faults.add(at("tmean_c"), "missing", "is required with date");
                        None
                    }
                    Some(mean) => {
                        faults.check(&at("tmean_c"), ReadingTime::day(date, mean, reading.tmin_c, reading.tmax_c))
                    }
                },
                (None, Some(instant)) => match reading.value_c {
                    None => {
                        faults.add(at("value_c"), "missing", "is required with at");
                        None
                    }
                    Some(value) => faults.check(&at("value_c"), ReadingTime::instant(instant, value)),
                },
            };
            if let (Some(time), Some(flag)) = (time, flag) {
                checked.push(NewReading { time, flag });
            }
        }
        Some(checked)
    }
}

/// What became of the readings sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct ReadingsReceipt {
    /// Readings sent.
    pub total: u64,
    /// New ones.
    pub created: u64,
    /// New versions of known ones; the old are kept.
    pub updated: u64,
    /// Identical with what was stored.
    pub unchanged: u64,
}
