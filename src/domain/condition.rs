//! The weather and the water of an hour, as far as rules of the bank speak of them: seen there, or forecast.

use super::Invalid;
use super::air::WeatherHour;
use super::place::{word_for, word_of};

/// Wind from which spinner flights are put off, km/h (from memory).
const WINDY_KMH: f64 = 20.0;
/// Share of the sky under clouds from which it is overcast, and up to which the sun shines (our limits: forecasts tell
/// eighths of the sky).
const OVERCAST: f64 = 0.75;
const SUNNY: f64 = 0.25;
/// Rain within an hour from which it rains, mm (our limit: below it forecasts tell drizzle or nothing).
const RAINY_MM: f64 = 0.2;
/// Air up to which an hour is cold, and from which it is hot, degrees Celsius (our limits for "cold" and "hot").
const COLD_C: f64 = 12.0;
const HOT_C: f64 = 22.0;

/// What the hour is like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Condition {
    /// Wind that bends twigs and ruffles the water.
    Windy,
    /// It rains.
    Rain,
    /// Cold and damp: little sun, or rain.
    ColdDamp,
    /// Hot and dry.
    HotDry,
    /// The sun stands in a clear sky.
    BrightSun,
    /// The water rises.
    RisingWater,
    /// The water falls and clears.
    FallingWater,
}

impl Condition {
    /// All conditions with their words.
    pub const WORDS: [(Self, &'static str); 7] = [
        (Self::Windy, "windy"),
        (Self::Rain, "rain"),
        (Self::ColdDamp, "cold-damp"),
        (Self::HotDry, "hot-dry"),
        (Self::BrightSun, "bright-sun"),
        (Self::RisingWater, "rising-water"),
        (Self::FallingWater, "falling-water"),
    ];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "conditions", text)
    }

    /// The word of this condition.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }

    /// What a forecast of the weather tells of an hour, of which `dark` says whether the sun is well down. What the
    /// service does not say is not taken for anything.
    #[must_use]
    pub fn of_hour(hour: &WeatherHour, dark: bool) -> Vec<Self> {
        let rains = hour.rain_mm.map(|mm| mm >= RAINY_MM);
        let overcast = hour.cloud.is_some_and(|share| share >= OVERCAST);
        let sunny = !dark && rains == Some(false) && hour.cloud.is_some_and(|share| share <= SUNNY);
        let told = [
            (Self::Windy, hour.wind_kmh.is_some_and(|kmh| kmh >= WINDY_KMH)),
            (Self::Rain, rains == Some(true)),
            (Self::ColdDamp, hour.air_c <= COLD_C && (overcast || rains == Some(true))),
            (Self::HotDry, hour.air_c >= HOT_C && rains == Some(false)),
            (Self::BrightSun, sunny),
        ];
        told.into_iter().filter_map(|(condition, holds)| holds.then_some(condition)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hour(air_c: f64, wind_kmh: Option<f64>, cloud: Option<f64>, rain_mm: Option<f64>) -> WeatherHour {
        WeatherHour { at: chrono::DateTime::UNIX_EPOCH, air_c, wind_kmh, cloud, rain_mm }
    }

    #[test]
    fn every_condition_is_read_from_its_word_and_no_other() {
        for (condition, word) in Condition::WORDS {
            assert_eq!(Condition::parse(word).map(Condition::as_str), Ok(word));
            assert_eq!(Condition::parse(word), Ok(condition));
        }
        assert!(Condition::parse("gale").is_err());
    }

    #[test]
    fn hours_are_told_by_their_numbers_and_silence_tells_nothing() {
        use Condition::{BrightSun, ColdDamp, HotDry, Rain, Windy};
        let told = |hour: WeatherHour, dark| Condition::of_hour(&hour, dark);
        assert_eq!(told(hour(16.0, None, None, None), false), []);
        assert_eq!(told(hour(30.0, None, Some(0.0), None), false), [], "nothing was said of rain");
        assert_eq!(told(hour(16.0, Some(19.9), Some(0.5), Some(0.1)), false), []);
        assert_eq!(told(hour(16.0, Some(20.0), Some(0.5), Some(0.2)), false), [Windy, Rain]);
        assert_eq!(told(hour(12.0, None, Some(0.75), Some(0.0)), false), [ColdDamp]);
        assert_eq!(told(hour(8.0, None, None, Some(1.0)), true), [Rain, ColdDamp]);
        assert_eq!(told(hour(22.0, None, Some(0.1), Some(0.0)), false), [HotDry, BrightSun]);
        assert_eq!(told(hour(22.0, None, Some(0.1), Some(0.0)), true), [HotDry], "no sun at night");
    }
}
