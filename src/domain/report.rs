//! A field report: one visit, any number of sightings. A blank report has none and counts as much.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::place::{word_for, word_of};
use super::{AbundanceClass, Invalid, Slug};

/// Life stage in the trade's words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Stage {
    /// Nymph or larva.
    Nymph,
    /// Pupa (caddis, midges).
    Pupa,
    /// Breaking through the surface.
    Emerger,
    /// Subimago.
    Dun,
    /// Winged adult of insects without a subimago.
    Adult,
    /// Imago in flight or egg-laying.
    Spinner,
    /// Dead or dying imago on the water.
    Spent,
}

impl Stage {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 7] = [
        (Self::Nymph, "nymph"),
        (Self::Pupa, "pupa"),
        (Self::Emerger, "emerger"),
        (Self::Dun, "dun"),
        (Self::Adult, "adult"),
        (Self::Spinner, "spinner"),
        (Self::Spent, "spent"),
    ];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "stage", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// Where a report stands with the keepers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ReportState {
    /// Waiting for a keeper.
    New,
    /// Used by the models.
    Accepted,
    /// A keeper asked something.
    NeedsInfo,
    /// Not used.
    Rejected,
}

impl ReportState {
    /// All variants with their words as stored and sent.
    pub const WORDS: [(Self, &'static str); 4] = [
        (Self::New, "new"),
        (Self::Accepted, "accepted"),
        (Self::NeedsInfo, "needs-info"),
        (Self::Rejected, "rejected"),
    ];

    /// Reads a word; `needs_info` and `needs-info` are the same.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "state", text)
    }

    /// The word as stored and sent (`needs_info` with an underscore).
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::NeedsInfo => "needs_info",
            other => word_for(&Self::WORDS, other),
        }
    }
}

/// What kind of change was made to a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ReportAction {
    /// What it says was changed.
    Edit,
    /// A keeper decided on it.
    Decision,
    /// A keeper took the last decision back.
    Undo,
    /// It was withdrawn.
    Withdrawal,
}

impl ReportAction {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 4] =
        [(Self::Edit, "edit"), (Self::Decision, "decision"), (Self::Undo, "undo"), (Self::Withdrawal, "withdrawal")];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "action", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// Colour of the wing pads on nymphs in the hand: dark ones emerge within a day (common practice,
/// no source).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WingPads {
    /// Dark or black.
    Dark,
    /// Pale.
    Light,
}

impl WingPads {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 2] = [(Self::Dark, "dark"), (Self::Light, "light")];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "wing_pads", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// An insect the member could not name.
#[derive(Debug, Clone, PartialEq)]
pub struct Described {
    /// Body length without tails, mm.
    pub length_mm: f64,
    /// Colour in the member's words.
    pub colour: String,
}

/// One thing seen during a visit.
#[derive(Debug, Clone, PartialEq)]
pub struct Sighting {
    /// The taxon, or `None` with a description.
    pub taxon: Option<Slug>,
    /// Description of an insect without a name.
    pub described: Option<Described>,
    /// Life stage.
    pub stage: Stage,
    /// Abundance class, where noted.
    pub abundance_class: Option<AbundanceClass>,
    /// Count, where counted.
    pub count: Option<u32>,
    /// Colour of the wing pads, nymphs only.
    pub wing_pads: Option<WingPads>,
    /// Behaviour in the member's words.
    pub behaviour: Option<String>,
}

/// One visit by one member.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Made by the client, unique for ever.
    pub id: Uuid,
    /// The watershed.
    pub watershed: Slug,
    /// The reach; never a spot.
    pub reach: Slug,
    /// Start of watching.
    pub started_at: DateTime<Utc>,
    /// End of watching, after the start.
    pub ended_at: DateTime<Utc>,
    /// How many people watched.
    pub people: u32,
    /// The taxa looked for; `None` means all of the watershed.
    pub looked_for: Option<Vec<Slug>>,
    /// Water temperature measured, degrees Celsius.
    pub water_c: Option<f64>,
    /// Sky in the member's words.
    pub sky: Option<String>,
    /// Anything else, plain text.
    pub note: Option<String>,
    /// What was seen; empty for a blank report.
    pub sightings: Vec<Sighting>,
    /// Where it stands.
    pub state: ReportState,
    /// When the service received it.
    pub received_at: DateTime<Utc>,
    /// The token that sent it, hidden from the public.
    pub token_id: Uuid,
    /// Counts edits; 1 when first stored.
    pub version: u32,
}
