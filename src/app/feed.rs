//! Calendar entries: one for the start window and one for the peak window of every forecast.
//!
//! What an entry last said is stored, so that its SEQUENCE and DTSTAMP follow its content and never
//! the request.

use chrono::{DateTime, Datelike, Days, NaiveDate, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::AppError;
use super::document::ForecastDocument;
use crate::domain::forecast::DateQuantiles;
use crate::domain::season::Season;
use crate::domain::{AbundanceClass, Reach, Slug, Taxon};
use crate::store::feed::FeedEvent;

/// Longest summary, characters.
pub const SUMMARY_MAX: usize = 60;
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
}

impl WindowKind {
    /// The word used in identifiers.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        match self {
            Self::Onset => "onset",
            Self::Peak => "peak",
        }
    }
}

/// Standing of an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EntryStatus {
    /// A forecast.
    Tentative,
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
    /// Standing.
    pub status: EntryStatus,
    /// Expected class around the peak, 0 none to 3 heavy.
    pub class_index: u8,
}

impl EntryContent {
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

/// The class expected around the peak: the mean class index of the best day within the peak window
/// (from its 10 % to its 90 % date), rounded to the nearest class.
#[must_use]
pub fn expected_class(forecast: &ForecastDocument) -> AbundanceClass {
    let Some((first, last)) = window(forecast.peak.into(), forecast.season) else { return AbundanceClass::None };
    let best = forecast
        .days
        .iter()
        .filter(|day| (first..=last).contains(&day.date))
        .map(|day| day.class_probabilities.mean_index())
        .fold(0.0, f64::max);
    let index = best.round().clamp(0.0, 3.0) as usize;
    AbundanceClass::WORDS[index].0
}

/// From the 10 % to the 90 % date; the season's last day stands for a date beyond it.
fn window(dates: DateQuantiles, season: i32) -> Option<(NaiveDate, NaiveDate)> {
    let season = Season::of_year(season);
    let first = dates.p10?;
    let last = dates.p90.unwrap_or_else(|| season.date(season.len()));
    (first <= last).then_some((first, last))
}

/// The entries that `forecast` calls for: none, one or two.
#[must_use]
pub fn plan(watershed: &Slug, forecast: &ForecastDocument, reach: &Reach, taxon: &Taxon) -> Vec<(Uuid, EntryContent)> {
    let class = expected_class(forecast);
    let peak = forecast.peak.into();
    [(WindowKind::Onset, forecast.onset()), (WindowKind::Peak, peak)]
        .into_iter()
        .filter_map(|(kind, dates)| {
            let (first, last) = window(dates, forecast.season)?;
            let uid = entry_uid(watershed, &reach.slug, &taxon.slug, forecast.brood, forecast.season, kind);
            Some((
                uid,
                EntryContent {
                    reach: forecast.reach.clone(),
                    taxon: forecast.taxon.clone(),
                    brood: forecast.brood,
                    season: forecast.season,
                    kind,
                    first,
                    last,
                    summary: summary(kind, first, last, taxon, reach, forecast.brood),
                    description: description(forecast, kind, dates, class),
                    status: EntryStatus::Tentative,
                    class_index: class.index() as u8,
                },
            ))
        })
        .collect()
}

fn summary(kind: WindowKind, first: NaiveDate, last: NaiveDate, taxon: &Taxon, reach: &Reach, brood: u8) -> String {
    let verb = match kind {
        WindowKind::Onset => "starts",
        WindowKind::Peak => "peaks",
    };
    let brood = if taxon.broods.len() > 1 { format!(" ({brood})") } else { String::new() };
    let text = format!("{}{brood} {verb} {}, {}", taxon.scientific_name, day_range(first, last), reach.name);
    shorten(&text, SUMMARY_MAX)
}

/// `6–14 May`, `28 May–3 Jun`, or one day.
#[must_use]
pub fn day_range(first: NaiveDate, last: NaiveDate) -> String {
    let day = |date: NaiveDate| date.format("%-d %b").to_string();
    if first == last {
        day(first)
    } else if (first.year(), first.month()) == (last.year(), last.month()) {
        format!("{}\u{2013}{}", first.day(), day(last))
    } else {
        format!("{}\u{2013}{}", day(first), day(last))
    }
}

/// `text` in at most `most` characters, cut between words; a first word that is longer is cut inside.
fn shorten(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let head: String = text.chars().take(most - 1).collect();
    let whole = text[head.len()..].starts_with(char::is_whitespace);
    let end = if whole { head.len() } else { head.rfind(char::is_whitespace).unwrap_or(head.len()) };
    format!("{}\u{2026}", head[..end].trim_end().trim_end_matches([',', '(']).trim_end())
}

fn description(forecast: &ForecastDocument, kind: WindowKind, dates: DateQuantiles, class: AbundanceClass) -> String {
    let mut lines = Vec::new();
    lines.push(match kind {
        WindowKind::Onset => "Start of the season: one in twenty of the year's insects out.".to_owned(),
        WindowKind::Peak => "The fullest day of the season is expected within these days.".to_owned(),
    });
    if let Some(middle) = dates.p50 {
        lines.push(format!("As likely before as after {}.", middle.format("%-d %B %Y")));
    }
    lines.push("Four chances in five that it falls within the days shown.".to_owned());
    lines.push(format!("Expected around the peak: {}.", class.as_str()));
    if forecast.fit.prior_driven {
        lines.push("Too few local records: this rests on general knowledge of the insect.".to_owned());
    }
    if forecast.stale {
        lines.push("Water temperatures are out of date: trust this less.".to_owned());
    }
    lines.push(format!("As of {}.", forecast.data_as_of.format("%-d %B %Y")));
    lines.push("A forecast is not a safety statement. Look at the water before you wade.".to_owned());
    lines.join("\n")
}

/// The stored entry after hearing `planned` at `now`: unchanged content keeps its stamp, a visible
/// change raises the sequence.
#[must_use]
pub fn advance(stored: Option<&Entry>, uid: Uuid, planned: EntryContent, now: DateTime<Utc>) -> Entry {
    match stored {
        None => Entry { uid, content: planned, sequence: 0, changed_at: now },
        Some(old) if old.content == planned => old.clone(),
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
        EntryStatus::Tentative => entry.content.last + Days::new(365) >= today,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_summary_is_cut_between_words() {
        assert_eq!(shorten("two words", 9), "two words");
        assert_eq!(shorten("two longer words", 12), "two longer\u{2026}");
        assert_eq!(shorten("two longer words", 11), "two longer\u{2026}");
        assert_eq!(shorten("two longer words", 10), "two\u{2026}");
        assert_eq!(shorten("peaks 6 May, Upper Meadow", 13), "peaks 6 May\u{2026}");
        assert_eq!(shorten("\u{e9}\u{e9}\u{e9}\u{e9}\u{e9}", 4), "\u{e9}\u{e9}\u{e9}\u{2026}");
    }
}
