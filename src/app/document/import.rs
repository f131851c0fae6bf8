//! What an import did, or would have done.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Most flagged readings, and most doubtful records, that are listed; all are counted.
pub const LISTED: usize = 10_000;

/// The outcome of one import. `total = created + updated + unchanged + rejected`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct ImportDocument {
    /// `setup`, `readings` or `records`.
    #[schema(example = "readings")]
    pub kind: String,
    /// What the readings state, for readings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schema(example = "water_temperature")]
    pub quantity: Option<String>,
    /// The watershed; empty when a setup file does not name one.
    pub watershed: String,
    /// The file, as named by whoever sent it.
    #[schema(example = "temperature.csv")]
    pub file: String,
    /// True when the file was taken; false when faults made the service refuse all of it.
    pub accepted: bool,
    /// True when nothing was stored because only a trial was asked for.
    pub dry_run: bool,
    /// True when good rows were to be stored in spite of wrong ones.
    pub best_effort: bool,
    /// Rows of the file, or things that a setup declares.
    pub total: u64,
    /// New ones.
    pub created: u64,
    /// Known ones that now say something else; the old version is kept.
    pub updated: u64,
    /// Known ones that say the same, repeats in the file, and rows without any value.
    pub unchanged: u64,
    /// Not stored; all of them when the file was refused.
    pub rejected: u64,
    /// Faults in all.
    pub fault_count: u64,
    /// The first 1000 of them, by line.
    pub faults: Vec<ImportFault>,
    /// Readings of the file that are kept but not used.
    pub flagged_count: u64,
    /// The first 10000 of them.
    pub flagged: Vec<FlaggedReading>,
    /// Records of the file with doubts.
    pub doubtful_count: u64,
    /// The first 10000 of them.
    pub doubtful: Vec<DoubtfulRecord>,
    /// Columns or keys that mean nothing here and were ignored.
    pub unknown_columns: Vec<String>,
}

/// One fault of a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct ImportFault {
    /// Line, from 1.
    pub line: u64,
    /// Column as the file names it, `header`, or `file`.
    pub column: String,
    /// The offending value, cut to 100 characters.
    pub value: String,
    /// Stable short code; treat the list of codes as open.
    #[schema(example = "bad-value")]
    pub code: String,
    /// What is wrong, in words.
    pub reason: String,
}

impl std::fmt::Display for ImportFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "line {}, column {}: {}", self.line, self.column, self.reason)?;
        if self.value.is_empty() { Ok(()) } else { write!(f, " (found {:?})", self.value) }
    }
}

/// A reading that is kept but not used.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, ToSchema)]
pub struct FlaggedReading {
    /// Gauge.
    pub site: String,
    /// Local day.
    pub date: NaiveDate,
    /// Instant, for readings that have one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<DateTime<Utc>>,
    /// Daily mean, or value at the instant, in the unit of the quantity.
    pub value: f64,
    /// The same for temperatures, °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value_c: Option<f64>,
    /// `suspect` or `bad`.
    pub quality: String,
    /// Why.
    pub reason: String,
}

/// A record that is kept with doubts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct DoubtfulRecord {
    /// Reach.
    pub site: String,
    /// First day as written.
    #[schema(required)]
    pub date_from: Option<NaiveDate>,
    /// Last day.
    pub date_to: NaiveDate,
    /// Taxon.
    pub taxon: String,
    /// False when the days out are not known or not believed and the usual interval is taken.
    pub exposure_known: bool,
    /// Why.
    pub reason: String,
}
