//! Readings.

use chrono::{DateTime, NaiveDate, Utc};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::time::{optional_date, optional_instant};
use super::{Faults, Input};
use crate::domain::reading::{Quality, Reading, ReadingTime};
use crate::domain::{Invalid, Quantity};

/// One reading: a local day with mean and extremes, or an instant.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReadingDocument {
    /// Local civil day, for daily readings.
    #[schema(required)]
    pub date: Option<NaiveDate>,
    /// Instant, for single readings.
    #[schema(required)]
    pub at: Option<DateTime<Utc>>,
    /// What was measured: `water_temperature`, `air_temperature`, `discharge`, `level`, `clarity` or `ice`.
    #[schema(example = "water_temperature")]
    pub quantity: &'static str,
    /// Its unit in a word.
    #[schema(example = "degree_celsius")]
    pub unit: &'static str,
    /// Daily mean or the single value, in that unit.
    pub mean: f64,
    /// Daily minimum or the single value.
    pub min: f64,
    /// Daily maximum or the single value.
    pub max: f64,
    /// The mean of a temperature again, degrees Celsius; null for other quantities.
    #[schema(required)]
    pub mean_c: Option<f64>,
    /// The minimum of a temperature.
    #[schema(required)]
    pub min_c: Option<f64>,
    /// The maximum of a temperature.
    #[schema(required)]
    pub max_c: Option<f64>,
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
        let (date, at, mean, min, max) = match reading.time {
            ReadingTime::Day { date, mean, low, high } => (Some(date), None, mean, low, high),
            ReadingTime::Instant { at, value } => (None, Some(at), value, value, value),
        };
        let celsius = |value: f64| reading.quantity.is_temperature().then_some(value);
        Self {
            date,
            at,
            quantity: reading.quantity.as_str(),
            unit: reading.quantity.unit(),
            mean,
            min,
            max,
            mean_c: celsius(mean),
            min_c: celsius(min),
            max_c: celsius(max),
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
    /// What they state: `water_temperature` when left out, `air_temperature`, `discharge`, `level`, `clarity` or `ice`.
    #[garde(skip)]
    #[schema(pattern = "^(water_temperature|air_temperature|discharge|level|clarity|ice)$")]
    pub quantity: Option<String>,
    /// Up to 1000 readings.
    #[garde(required, length(min = 1, max = 1000), dive)]
    #[schema(value_type = Vec<ReadingInput>, min_items = 1, max_items = 1000)]
    pub readings: Option<Vec<ReadingInput>>,
}

/// One reading: `date` with `tmean_c`, or `at` with `value_c`; `mean` and `value` for quantities other than
/// temperatures.
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
    /// Daily mean of a quantity other than a temperature, in its unit.
    #[garde(skip)]
    pub mean: Option<f64>,
    /// Its daily minimum.
    #[garde(skip)]
    pub min: Option<f64>,
    /// Its daily maximum.
    #[garde(skip)]
    pub max: Option<f64>,
    /// Its value at the instant.
    #[garde(skip)]
    pub value: Option<f64>,
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

/// Checked readings of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct NewReadings {
    /// What they state.
    pub quantity: Quantity,
    /// The readings.
    pub readings: Vec<NewReading>,
}

impl Input for ReadingsInput {
    type Domain = NewReadings;

    fn into_domain(self, faults: &mut Faults) -> Option<NewReadings> {
        let quantity = match self.quantity {
            None => Quantity::WaterTemperature,
            Some(text) => faults.check("#/quantity", Quantity::parse(&text))?,
        };
        let mut readings = Vec::new();
        for (index, reading) in self.readings?.into_iter().enumerate() {
            let at = |field: &str| format!("#/readings/{index}/{field}");
            let flag = match &reading.flag {
                None => Some(Quality::Good),
                Some(text) => faults.check(&at("flag"), Quality::parse(text)),
            };
            let time = reading.time(quantity, &at, faults);
            if let (Some(time), Some(flag)) = (time, flag) {
                readings.push(NewReading { time, flag });
            }
        }
        Some(NewReadings { quantity, readings })
    }
}

/// The values of a reading, with the names that they have for its quantity.
struct Values {
    mean: (&'static str, Option<f64>),
    low: Option<f64>,
    high: Option<f64>,
    value: (&'static str, Option<f64>),
}

impl ReadingInput {
    /// The values of `quantity`; those of another kind are faults.
    fn values(&self, quantity: Quantity, at: &dyn Fn(&str) -> String, faults: &mut Faults) -> Values {
        let celsius =
            [("tmean_c", self.tmean_c), ("tmin_c", self.tmin_c), ("tmax_c", self.tmax_c), ("value_c", self.value_c)];
        let plain = [("mean", self.mean), ("min", self.min), ("max", self.max), ("value", self.value)];
        let (own, other) = if quantity.is_temperature() { (celsius, plain) } else { (plain, celsius) };
        for (name, _) in other.into_iter().filter(|(_, value)| value.is_some()) {
            let reason = format!("does not belong to {}; give {} or {}", quantity.as_str(), own[0].0, own[3].0);
            faults.add(at(name), "exclusive", reason);
        }
        Values { mean: own[0], low: own[1].1, high: own[2].1, value: own[3] }
    }

    fn time(&self, quantity: Quantity, at: &dyn Fn(&str) -> String, faults: &mut Faults) -> Option<ReadingTime> {
        let values = self.values(quantity, at, faults);
        let ((mean_name, mean), (value_name, value)) = (values.mean, values.value);
        let mut need = |name: &str, beside: &str| {
            faults.add(at(name), "missing", format!("is required with {beside}"));
            None
        };
        let (name, time): (&str, Result<ReadingTime, Invalid>) = match (self.date, self.at) {
            (Some(_), Some(_)) => {
                faults.add(at("at"), "exclusive", "must not stand beside date");
                return None;
            }
            (None, None) => {
                faults.add(at("date"), "missing", "date or at is required");
                return None;
            }
            (Some(_), None) if value.is_some() => {
                faults.add(at(value_name), "exclusive", format!("belongs to at; a day takes {mean_name}"));
                return None;
            }
            (None, Some(_)) if mean.is_some() || values.low.is_some() || values.high.is_some() => {
                faults.add(at("at"), "exclusive", format!("takes {value_name}, not values of a day"));
                return None;
            }
            (Some(date), None) => match mean {
                None => return need(mean_name, "date"),
                Some(mean) => (mean_name, quantity.day(date, mean, values.low, values.high)),
            },
            (None, Some(instant)) => match value {
                None => return need(value_name, "at"),
                Some(value) => (value_name, quantity.instant(instant, value)),
            },
        };
        faults.check(&at(name), time)
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
