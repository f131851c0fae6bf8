//! Watersheds, reaches and gauges.

use chrono_tz::Tz;

use super::{Invalid, Rights, Slug, Units};

/// The unit that shares a calendar; has an IANA time zone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Watershed {
    /// Unique short name.
    pub slug: Slug,
    /// Display name.
    pub name: String,
    /// IANA time zone in which civil days begin and end.
    pub time_zone: Tz,
    /// In which its pages tell temperatures to whoever does not choose.
    pub units: Units,
}

/// What kind of water a reach mostly is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WaterType {
    /// Fast broken water.
    Riffle,
    /// Even flow.
    Run,
    /// Deep slow water.
    Pool,
    /// Slow edge or backwater.
    SlowMargin,
    /// Lake or pond.
    StillWater,
}

impl WaterType {
    /// All variants with their words in files and in the API.
    pub const WORDS: [(Self, &'static str); 5] = [
        (Self::Riffle, "riffle"),
        (Self::Run, "run"),
        (Self::Pool, "pool"),
        (Self::SlowMargin, "slow-margin"),
        (Self::StillWater, "still-water"),
    ];

    /// Reads a word; `_` and space stand for `-`.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "water_type", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// A named stretch of a watershed. Coordinates are those of the stretch, never of a member's spot.
#[derive(Debug, Clone, PartialEq)]
pub struct Reach {
    /// Short name, unique in its watershed.
    pub slug: Slug,
    /// Display name.
    pub name: String,
    /// Degrees north.
    pub latitude: f64,
    /// Degrees east.
    pub longitude: f64,
    /// Metres above sea level.
    pub elevation_m: Option<f64>,
    /// Kind of water.
    pub water_type: Option<WaterType>,
    /// Gauges in order of preference.
    pub gauges: Vec<Slug>,
}

/// A place where water temperature is measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Gauge {
    /// Short name, unique in its watershed.
    pub slug: Slug,
    /// Display name.
    pub name: String,
    /// Degrees north, where known.
    pub latitude: Option<f64>,
    /// Degrees east, where known.
    pub longitude: Option<f64>,
    /// Where its readings come from: words, or a service that is asked ([`super::source`]).
    pub source: Option<String>,
    /// On what terms its readings may be passed on, where a keeper said so.
    pub rights: Rights,
}

/// Mean latitude of `reaches`, degrees north; `None` without any.
#[must_use]
pub fn mean_latitude_deg<'r>(reaches: impl IntoIterator<Item = &'r Reach>) -> Option<f64> {
    mean(reaches.into_iter().map(|reach| reach.latitude))
}

/// Whether a reach lies in Europe, as far as a frame of degrees tells: west of the Urals, with Iceland and the north
/// shore of the Mediterranean.
#[must_use]
pub fn is_in_europe(reach: &Reach) -> bool {
    (35.0..72.0).contains(&reach.latitude) && (-25.0..60.0).contains(&reach.longitude)
}

/// Mean altitude of those of `reaches` that know theirs, metres above the sea.
#[must_use]
pub fn mean_elevation_m<'r>(reaches: impl IntoIterator<Item = &'r Reach>) -> Option<f64> {
    mean(reaches.into_iter().filter_map(|reach| reach.elevation_m))
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, number) = values.fold((0.0, 0_u32), |(sum, number), value| (sum + value, number + 1));
    (number > 0).then(|| sum / f64::from(number))
}

/// Checks a latitude in degrees north.
///
/// # Errors
/// [`Invalid`] outside -90..=90 or not finite.
pub fn check_latitude(value: f64) -> Result<f64, Invalid> {
    in_range("latitude", value, -90.0, 90.0, "degrees north between -90 and 90")
}

/// Checks a longitude in degrees east.
///
/// # Errors
/// [`Invalid`] outside -180..=180 or not finite.
pub fn check_longitude(value: f64) -> Result<f64, Invalid> {
    in_range("longitude", value, -180.0, 180.0, "degrees east between -180 and 180")
}

/// Checks that `value` is finite and within `low..=high`.
///
/// # Errors
/// [`Invalid`] naming `field` and `rule` otherwise.
pub fn in_range(field: &'static str, value: f64, low: f64, high: f64, rule: &str) -> Result<f64, Invalid> {
    if value.is_finite() && (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(Invalid::new(field, value, format!("must be {rule}")))
    }
}

/// Finds the variant whose word is `text`, with `_` and space read as `-` and case ignored.
pub(crate) fn word_of<T: Copy>(words: &[(T, &'static str)], field: &'static str, text: &str) -> Result<T, Invalid> {
    let key = text.trim().to_ascii_lowercase().replace(['_', ' '], "-");
    words.iter().find(|(_, word)| *word == key).map(|(variant, _)| *variant).ok_or_else(|| {
        let known: Vec<&str> = words.iter().map(|(_, word)| *word).collect();
        Invalid::new(field, text, format!("must be one of {}", known.join(", ")))
    })
}

/// The word of `variant`; every variant stands in its table (held by tests over all words).
pub(crate) fn word_for<T: Copy + PartialEq>(words: &[(T, &'static str)], variant: T) -> &'static str {
    words.iter().find(|(known, _)| *known == variant).map_or("", |(_, word)| word)
}
