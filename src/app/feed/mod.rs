//! What goes out to subscribers: calendar entries for the start, the peak and the spinner flights of every forecast,
//! and what keepers tell.
//!
//! What an entry last said is stored, so that its SEQUENCE and DTSTAMP follow its content and never
//! the request. `plan` says what a forecast calls for, `item` what a calendar shows, `calendar` and `atom` write.

mod atom;
mod calendar;
mod ical;
mod item;
mod plan;
mod seen;
mod wording;

pub use atom::atom;
pub use calendar::{Reader, calendar};
pub use item::{ItemKind, Selection};
pub use plan::{expected_class, one_line_within, plan};
pub use seen::{SeenDays, confirmed};

use std::collections::BTreeMap;

use chrono::{DateTime, Days, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::AppError;
use crate::domain::Slug;
use crate::store::feed::FeedEvent;
use crate::words::Language;

/// Longest summary, characters.
pub const SUMMARY_MAX: usize = 60;
/// Days by which a start has to move for subscribers to be told anew.
pub const MUCH_DAYS: i64 = 5;
/// A withdrawn entry is sent as cancelled for this long, then dropped.
pub const CANCELLED_DAYS: i64 = 30;

/// What an entry speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WindowKind {
    /// When 5 % of the season's emergence is expected to be reached.
    Onset,
    /// When the day of largest expected share is expected.
    Peak,
    /// When spinners fly.
    Flight,
}

impl WindowKind {
    /// The word used in identifiers.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Onset => "onset",
            Self::Peak => "peak",
            Self::Flight => "flight",
        }
    }
}

/// Standing of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EntryStatus {
    /// A forecast.
    Tentative,
    /// What it speaks of has been seen.
    Confirmed,
    /// Withdrawn.
    Cancelled,
}

/// What an entry says. Stored as JSON; equal content means equal bytes in the feed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct EntryContent {
    /// Reach slug.
    pub reach: String,
    /// Taxon slug.
    pub taxon: String,
    /// Brood, from 1.
    pub brood: u8,
    /// Season.
    pub season: i32,
    /// Kind of window.
    pub kind: WindowKind,
    /// First day.
    pub first: NaiveDate,
    /// Last day, inclusive.
    pub last: NaiveDate,
    /// At most [`SUMMARY_MAX`] characters.
    pub summary: String,
    /// Several lines of plain text.
    pub description: String,
    /// The same in other languages, by their tags.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub translations: BTreeMap<String, Saying>,
    /// Standing.
    pub status: EntryStatus,
    /// Expected class around the peak, 0 none to 3 heavy.
    pub class_index: u8,
    /// Last day whose data it rests on; `None` in what older versions stored.
    #[serde(default)]
    pub as_of: Option<NaiveDate>,
    /// True when the water temperatures were out of date.
    #[serde(default)]
    pub stale: bool,
    /// What subscribers were last told of a start; `None` for other kinds.
    #[serde(default)]
    pub told: Option<Told>,
    /// The day since which what it speaks of has been seen.
    #[serde(default)]
    pub seen: Option<NaiveDate>,
}

/// An entry in one language.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Saying {
    /// As [`EntryContent::summary`].
    pub summary: String,
    /// As [`EntryContent::description`].
    pub description: String,
}

/// The days of a start that subscribers were last told, with the days told before where they moved much.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Told {
    /// First day.
    pub first: NaiveDate,
    /// Last day.
    pub last: NaiveDate,
    /// When they were told.
    pub at: DateTime<Utc>,
    /// What was told before.
    pub before: Option<(NaiveDate, NaiveDate)>,
}

impl Told {
    /// What is told now: `old` until the middle of the days has moved by [`MUCH_DAYS`].
    fn renewed(old: Option<&Self>, content: &EntryContent, now: DateTime<Utc>) -> Option<Self> {
        if content.kind != WindowKind::Onset {
            return None;
        }
        let (first, last) = (content.first, content.last);
        match old {
            Some(old) if ((first - old.first) + (last - old.last)).num_days().abs() < 2 * MUCH_DAYS => {
                Some(old.clone())
            }
            _ => Some(Self { first, last, at: now, before: old.map(|old| (old.first, old.last)) }),
        }
    }
}

impl EntryContent {
    /// Summary and description, in `language` where they were said in it.
    #[must_use]
    pub fn said_in(&self, language: Language) -> (&str, &str) {
        match self.translations.get(language.tag()) {
            Some(saying) => (&saying.summary, &saying.description),
            None => (&self.summary, &self.description),
        }
    }

    /// True when it says the same as `other` in English: languages that come later are no news.
    fn says_what(&self, other: &Self) -> bool {
        let bare = |content: &Self| Self { translations: BTreeMap::new(), ..content.clone() };
        bare(self) == bare(other)
    }

    /// True when a subscriber should be told: the days, the standing or the summary changed.
    #[must_use]
    pub fn differs_visibly(&self, other: &Self) -> bool {
        self.first != other.first
            || self.last != other.last
            || self.status != other.status
            || self.summary != other.summary
    }
}

/// An entry as stored and served.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Stable identifier, without host.
    pub uid: Uuid,
    /// What it says.
    pub content: EntryContent,
    /// Grows with each visible change.
    pub sequence: u32,
    /// When its content last changed.
    pub changed_at: DateTime<Utc>,
}

/// The stable identifier of an entry: a UUIDv5 that holds no date.
#[must_use]
pub fn entry_uid(watershed: &Slug, reach: &Slug, taxon: &Slug, brood: u8, season: i32, kind: WindowKind) -> Uuid {
    let name = format!("{}/{}/{}/{brood}/{season}/{}", watershed.key(), reach.key(), taxon.key(), kind.as_str());
    Uuid::new_v5(&namespace(), name.as_bytes())
}

/// Namespace of all identifiers this project derives.
fn namespace() -> Uuid {
    Uuid::new_v5(&Uuid::NAMESPACE_DNS, b"calendar.subimago.invalid")
}

/// Identifier of the entry that stands in an otherwise empty feed.
#[must_use]
pub fn placeholder_uid(watershed: &Slug, season: i32) -> Uuid {
    Uuid::new_v5(&namespace(), format!("{}/placeholder/{season}", watershed.key()).as_bytes())
}

/// The stored entry after hearing `planned` at `now`: unchanged content keeps its stamp, a visible
/// change raises the sequence.
#[must_use]
pub fn advance(stored: Option<&Entry>, uid: Uuid, mut planned: EntryContent, now: DateTime<Utc>) -> Entry {
    planned.told = Told::renewed(stored.and_then(|old| old.content.told.as_ref()), &planned, now);
    match stored {
        None => Entry { uid, content: planned, sequence: 0, changed_at: now },
        Some(old) if old.content == planned => old.clone(),
        Some(old) if old.content.says_what(&planned) => Entry { content: planned, ..old.clone() },
        Some(old) => Entry {
            uid,
            sequence: old.sequence + u32::from(old.content.differs_visibly(&planned)),
            content: planned,
            // A clock set back must not make an entry look older than what clients hold.
            changed_at: now.max(old.changed_at),
        },
    }
}

/// The entry as cancelled at `now`.
#[must_use]
pub fn cancel(stored: &Entry, now: DateTime<Utc>) -> Entry {
    let mut planned = stored.content.clone();
    planned.status = EntryStatus::Cancelled;
    advance(Some(stored), stored.uid, planned, now)
}

/// Whether `entry` still belongs in a feed read on `today`: cancelled ones for a month, others
/// until a year after their last day.
#[must_use]
pub fn is_served(entry: &Entry, today: NaiveDate) -> bool {
    match entry.content.status {
        EntryStatus::Cancelled => {
            today.signed_duration_since(entry.changed_at.date_naive()).num_days() <= CANCELLED_DAYS
        }
        EntryStatus::Tentative | EntryStatus::Confirmed => entry.content.last + Days::new(365) >= today,
    }
}

/// The entry behind a stored event.
///
/// # Errors
/// [`AppError::Internal`] when the stored content cannot be read.
pub fn entry_of(event: &FeedEvent) -> Result<Entry, AppError> {
    let damaged = |what: &str| AppError::Internal(format!("stored calendar entry {}: {what}", event.uid));
    Ok(Entry {
        uid: event.uid.parse().map_err(|_| damaged("identifier is not a UUID"))?,
        content: serde_json::from_str(&event.content).map_err(|_| damaged("content cannot be read"))?,
        sequence: u32::try_from(event.sequence).map_err(|_| damaged("sequence out of range"))?,
        changed_at: event.changed_at,
    })
}
