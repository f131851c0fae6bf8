//! Emergence records: visits, traps over an interval, first sightings. Zeros are records.

use chrono::{DateTime, NaiveDate, NaiveTime, Timelike as _, Utc};

use super::place::{word_for, word_of};
use super::{Invalid, Slug, Stage};

/// How heavily insects were about. `sparse`: some seen in ten minutes of watching; `moderate`:
/// always a few in view; `heavy`: more than one can count.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum AbundanceClass {
    /// Looked for, none seen.
    None,
    /// Some seen in ten minutes.
    Sparse,
    /// Always a few in view.
    Moderate,
    /// More than one can count.
    Heavy,
}

impl AbundanceClass {
    /// All variants, lightest first, with their words.
    pub const WORDS: [(Self, &'static str); 4] =
        [(Self::None, "none"), (Self::Sparse, "sparse"), (Self::Moderate, "moderate"), (Self::Heavy, "heavy")];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "abundance_class", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }

    /// 0 for none up to 3 for heavy.
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }
}

/// How a record was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RecordKind {
    /// People watching the water.
    Visit,
    /// A trap over the days after `date_from` through `date_to`.
    Trap,
    /// The first time of the season that the taxon was seen, in (`date_from`, `date_to`].
    FirstSighting,
}

impl RecordKind {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 3] =
        [(Self::Visit, "visit"), (Self::Trap, "trap"), (Self::FirstSighting, "first-sighting")];

    /// Reads a word; `first_sighting` and `first-sighting` are the same.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "kind", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// Weather during a visit, where it was noted.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Weather {
    /// Cloud cover, 0 clear to 1 overcast.
    pub cloud: Option<f64>,
    /// Wind speed, km/h.
    pub wind_kmh: Option<f64>,
    /// Air temperature, degrees Celsius.
    pub air_c: Option<f64>,
    /// Rain within an hour, mm.
    pub rain_mm: Option<f64>,
}

/// One emergence record of one taxon at one reach.
#[derive(Debug, Clone, PartialEq)]
pub struct Record {
    /// The reach.
    pub reach: Slug,
    /// The taxon.
    pub taxon: Slug,
    /// The brood, where the recorder named one.
    pub brood: Option<u8>,
    /// How it was made.
    pub kind: RecordKind,
    /// Visits: the day. Traps: the day before the first day covered, unknown when `None`.
    /// First sightings: last day looked without seeing, unknown when `None`.
    pub date_from: Option<NaiveDate>,
    /// Visits: the day (equal to `date_from`). Traps: last day covered. First sightings: day seen.
    pub date_to: NaiveDate,
    /// Insects counted, where counted. The count is used when both are given.
    pub count: Option<u32>,
    /// Abundance class, where noted.
    pub abundance_class: Option<AbundanceClass>,
    /// Visits: people. Traps: number of traps or hours of light, never times days.
    pub effort: f64,
    /// Local clock hours watched; an end before the start is past midnight.
    pub hours: Option<(NaiveTime, NaiveTime)>,
    /// Life stage seen.
    pub stage: Option<Stage>,
    /// Weather noted.
    pub weather: Weather,
    /// The recorder's own identifier.
    pub external_id: Option<String>,
    /// When we learned it.
    pub known_at: DateTime<Utc>,
    /// True when `known_at` was assumed (end of the described local day).
    pub known_assumed: bool,
    /// Where it came from, for example `file:records.csv` or `report:<uuid>`.
    pub source: String,
    /// Doubts of the import checks, in words. A record with doubts that change its exposure is
    /// kept, and `exposure_known` is false.
    pub doubts: Vec<String>,
    /// False when the days a trap was out are unknown or not to be believed; the model then takes
    /// the site's usual interval.
    pub exposure_known: bool,
}

impl Record {
    /// What makes two statements about the same record of a watershed: the recorder's own identifier, or else
    /// reach, taxon, brood, kind, days, hours and stage. The two forms cannot meet. It is stored: it must not change.
    #[must_use]
    pub fn key(&self) -> String {
        if let Some(id) = &self.external_id {
            return format!("id {id}");
        }
        let text = |part: Option<String>| part.unwrap_or_else(|| "-".to_owned());
        let hours = self
            .hours
            .map(|(start, end)| format!("{}..{}", start.num_seconds_from_midnight(), end.num_seconds_from_midnight()));
        format!(
            "of {} {} {} {} {} {} {} {}",
            self.reach.key(),
            self.taxon.key(),
            text(self.brood.map(|brood| brood.to_string())),
            self.kind.as_str(),
            text(self.date_from.map(|date| date.to_string())),
            self.date_to,
            text(hours),
            text(self.stage.map(|stage| stage.as_str().to_owned())),
        )
    }

    /// True when none were found: a count of none, or the class none where nobody counted.
    #[must_use]
    pub fn is_blank(&self) -> bool {
        self.count.map_or(self.abundance_class == Some(AbundanceClass::None), |count| count == 0)
    }
}
