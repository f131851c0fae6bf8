//! What is measured at a gauge: the quantities, their units, and the values they can have.

use std::ops::RangeInclusive;

use chrono::{DateTime, NaiveDate, Utc};

use super::place::word_for;
use super::{Invalid, ReadingTime};

/// A quantity that readings state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Quantity {
    /// Temperature of the water, degrees Celsius. The only one that models of insects read.
    #[default]
    WaterTemperature,
    /// Temperature of the air, degrees Celsius.
    AirTemperature,
    /// Volume that passes, cubic metres per second; negative where a tide turns the river.
    Discharge,
    /// Height of the surface over the gauge's own zero, metres.
    Level,
    /// How far one sees in the water, metres: what an eye or a disc tells. Turbidity in NTU is another
    /// quantity, from which it cannot be computed.
    Clarity,
    /// Share of the surface under ice, 0 to 1.
    Ice,
}

/// Names of a quantity's values in files and in faults, with the unit in them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ValueNames {
    /// Mean of a day.
    pub mean: &'static str,
    /// Least of a day.
    pub low: &'static str,
    /// Greatest of a day.
    pub high: &'static str,
    /// One value at an instant.
    pub value: &'static str,
}

const CELSIUS: ValueNames = ValueNames { mean: "tmean_c", low: "tmin_c", high: "tmax_c", value: "value_c" };
const CUBIC_METRES: ValueNames =
    ValueNames { mean: "mean_m3_s", low: "min_m3_s", high: "max_m3_s", value: "value_m3_s" };
const METRES: ValueNames = ValueNames { mean: "mean_m", low: "min_m", high: "max_m", value: "value_m" };
const SHARE: ValueNames = ValueNames { mean: "mean_share", low: "min_share", high: "max_share", value: "value_share" };

impl Quantity {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 6] = [
        (Self::WaterTemperature, "water_temperature"),
        (Self::AirTemperature, "air_temperature"),
        (Self::Discharge, "discharge"),
        (Self::Level, "level"),
        (Self::Clarity, "clarity"),
        (Self::Ice, "ice"),
    ];

    /// Reads a word; `-` and space stand for `_`.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        let key = text.trim().to_ascii_lowercase().replace(['-', ' '], "_");
        Self::WORDS.iter().find(|(_, word)| *word == key).map(|(quantity, _)| *quantity).ok_or_else(|| {
            let known: Vec<&str> = Self::WORDS.iter().map(|(_, word)| *word).collect();
            Invalid::new("quantity", text, format!("must be one of {}", known.join(", ")))
        })
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }

    /// True for temperatures.
    #[must_use]
    pub fn is_temperature(self) -> bool {
        matches!(self, Self::WaterTemperature | Self::AirTemperature)
    }

    /// The unit in a word.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::WaterTemperature | Self::AirTemperature => "degree_celsius",
            Self::Discharge => "cubic_metre_per_second",
            Self::Level | Self::Clarity => "metre",
            Self::Ice => "share",
        }
    }

    /// The unit for people.
    #[must_use]
    pub fn unit_in_words(self) -> &'static str {
        match self {
            Self::WaterTemperature | Self::AirTemperature => "degrees Celsius",
            Self::Discharge => "cubic metres per second",
            Self::Level | Self::Clarity => "metres",
            Self::Ice => "as a share of the surface",
        }
    }

    /// Names of its values.
    #[must_use]
    pub fn names(self) -> ValueNames {
        match self {
            Self::WaterTemperature | Self::AirTemperature => CELSIUS,
            Self::Discharge => CUBIC_METRES,
            Self::Level | Self::Clarity => METRES,
            Self::Ice => SHARE,
        }
    }

    /// Values that a reading may state at all; others are refused as mistakes of unit or form.
    #[must_use]
    pub fn possible(self) -> RangeInclusive<f64> {
        match self {
            Self::WaterTemperature => super::reading::WATER_MIN_C..=super::reading::WATER_MAX_C,
            // Colder and warmer than any air measured near the ground (from memory: -89 and 57).
            Self::AirTemperature => -90.0..=60.0,
            // The greatest river carries some 200 000 on average; tides push back less.
            Self::Discharge => -100_000.0..=300_000.0,
            // A gauge's zero may lie at the level of the sea.
            Self::Level => -500.0..=9000.0,
            Self::Clarity => 0.0..=100.0,
            Self::Ice => 0.0..=1.0,
        }
    }

    /// Values that are believed without a second look; others are kept as suspect. Trout water, not the
    /// world (common practice, no source).
    #[must_use]
    pub fn plausible(self) -> RangeInclusive<f64> {
        match self {
            Self::WaterTemperature => -2.0..=45.0,
            Self::AirTemperature => -50.0..=50.0,
            Self::Discharge => 0.0..=20_000.0,
            Self::Level => -50.0..=5000.0,
            Self::Clarity => 0.0..=40.0,
            Self::Ice => 0.0..=1.0,
        }
    }

    /// Why `value` is not believed at once, if so.
    #[must_use]
    pub fn doubt(self, value: f64) -> Option<String> {
        let plausible = self.plausible();
        (!plausible.contains(&value)).then(|| {
            format!("{value} is outside {} to {} {}", plausible.start(), plausible.end(), self.unit_in_words())
        })
    }

    /// A daily reading. A missing extreme takes the value of the mean.
    ///
    /// # Errors
    /// [`Invalid`] when a value is impossible, the least is above the greatest, or the mean lies
    /// outside them. Swapped extremes are refused, not mended.
    pub fn day(self, date: NaiveDate, mean: f64, low: Option<f64>, high: Option<f64>) -> Result<ReadingTime, Invalid> {
        let names = self.names();
        let mean = self.check(names.mean, mean)?;
        let low = low.map(|value| self.check(names.low, value)).transpose()?;
        let high = high.map(|value| self.check(names.high, value)).transpose()?;
        if let (Some(low), Some(high)) = (low, high)
            && low > high
        {
            return Err(Invalid::new(names.low, low, format!("is above {} ({high})", names.high)));
        }
        let (low, high) = (low.unwrap_or(mean), high.unwrap_or(mean));
        if mean < low || mean > high {
            let reason = format!("lies outside {}..{} ({low}..{high})", names.low, names.high);
            return Err(Invalid::new(names.mean, mean, reason));
        }
        Ok(ReadingTime::Day { date, mean, low, high })
    }

    /// A reading at an instant.
    ///
    /// # Errors
    /// [`Invalid`] when the value is impossible.
    pub fn instant(self, at: DateTime<Utc>, value: f64) -> Result<ReadingTime, Invalid> {
        Ok(ReadingTime::Instant { at, value: self.check(self.names().value, value)? })
    }

    fn check(self, field: &'static str, value: f64) -> Result<f64, Invalid> {
        let possible = self.possible();
        if value.is_finite() && possible.contains(&value) {
            return Ok(value);
        }
        let (low, high) = (possible.start(), possible.end());
        let what = match self {
            Self::WaterTemperature | Self::AirTemperature => "a temperature in",
            Self::Discharge => "a discharge in",
            Self::Level => "a level in",
            Self::Clarity => "how far one sees in the water, in",
            Self::Ice => "ice",
        };
        Err(Invalid::new(field, value, format!("must be {what} {} between {low} and {high}", self.unit_in_words())))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_read_in_any_spelling() {
        for (quantity, word) in Quantity::WORDS {
            assert_eq!(Quantity::parse(word), Ok(quantity));
            assert_eq!(Quantity::parse(&word.replace('_', "-").to_uppercase()), Ok(quantity));
            assert_eq!(quantity.as_str(), word);
        }
        let fault = Quantity::parse("flow").expect_err("no such word");
        assert!(fault.to_string().contains("discharge"), "{fault}");
    }

    #[test]
    fn each_quantity_has_limits_of_its_own() {
        let at = DateTime::UNIX_EPOCH;
        for (quantity, fine, wrong) in [
            (Quantity::WaterTemperature, -60.0, 101.0),
            (Quantity::AirTemperature, -89.0, -91.0),
            (Quantity::Discharge, -3.0, 300_001.0),
            (Quantity::Level, 412.3, 9001.0),
            (Quantity::Clarity, 0.0, -0.1),
            (Quantity::Ice, 1.0, 1.01),
        ] {
            assert!(quantity.instant(at, fine).is_ok(), "{quantity:?}");
            let fault = quantity.instant(at, wrong).expect_err("impossible");
            assert_eq!(fault.field, quantity.names().value);
            assert!(quantity.instant(at, f64::NAN).is_err());
            let (possible, plausible) = (quantity.possible(), quantity.plausible());
            assert!(possible.contains(plausible.start()) && possible.contains(plausible.end()), "{quantity:?}");
        }
        assert!(Quantity::Discharge.doubt(-3.0).is_some_and(|words| words.contains("cubic metres")));
        assert_eq!(Quantity::Discharge.doubt(3.0), None);
    }

    #[test]
    fn extremes_are_held_in_order_whatever_the_unit() {
        let date = NaiveDate::default();
        let day = |mean, low, high| Quantity::Discharge.day(date, mean, low, high).map_err(|fault| fault.field);
        assert_eq!(day(2.0, Some(3.0), Some(1.0)), Err("min_m3_s"));
        assert_eq!(day(4.0, Some(1.0), Some(3.0)), Err("mean_m3_s"));
        assert_eq!(day(2.0, None, Some(3.0)), Ok(ReadingTime::Day { date, mean: 2.0, low: 2.0, high: 3.0 }));
    }
}
