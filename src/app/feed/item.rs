//! What a calendar shows: forecast windows and notices, chosen and in one form.

use std::borrow::Cow;

use chrono::{DateTime, Days, NaiveDate, Utc};
use uuid::Uuid;

use super::plan::one_line_within;
use super::{CANCELLED_DAYS, Entry, EntryStatus, SUMMARY_MAX, WindowKind, is_served, namespace};
use crate::app::WatershedView;
use crate::domain::place::{word_for, word_of};
use crate::domain::{AbundanceClass, Audience, Invalid, Notice, Slug};
use crate::say;
use crate::words::Language;

/// The kinds of what a calendar shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ItemKind {
    /// A window of a forecast.
    Window(WindowKind),
    /// What a keeper tells.
    Notice,
}

impl ItemKind {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 4] = [
        (Self::Window(WindowKind::Onset), "onset"),
        (Self::Window(WindowKind::Peak), "peak"),
        (Self::Window(WindowKind::Flight), "flight"),
        (Self::Notice, "notice"),
    ];

    /// Reads a word.
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

/// What a subscriber asks for; an empty list means all.
#[derive(Debug, Clone, Default)]
pub struct Selection {
    /// Only these reaches, with what is told of the whole watershed.
    pub reaches: Vec<Slug>,
    /// Only these taxa; notices stay.
    pub taxa: Vec<Slug>,
    /// Only what is expected to reach this class around its peak; notices stay.
    pub at_least: Option<AbundanceClass>,
    /// Only these kinds.
    pub kinds: Vec<ItemKind>,
}

impl Selection {
    fn wants_kind(&self, kind: ItemKind) -> bool {
        self.kinds.is_empty() || self.kinds.contains(&kind)
    }

    /// Whether `entry` is asked for.
    #[must_use]
    pub fn wants(&self, entry: &Entry) -> bool {
        let content = &entry.content;
        let named = |list: &[Slug], text: &str| {
            list.is_empty() || list.iter().any(|slug| slug.as_str().eq_ignore_ascii_case(text))
        };
        named(&self.reaches, &content.reach)
            && named(&self.taxa, &content.taxon)
            && self.at_least.is_none_or(|class| usize::from(content.class_index) >= class.index())
            && self.wants_kind(ItemKind::Window(content.kind))
    }

    /// Whether `notice` is asked for.
    #[must_use]
    pub fn wants_notice(&self, notice: &Notice) -> bool {
        let here = self.reaches.is_empty() || self.reaches.iter().any(|reach| notice.is_about(reach));
        here && self.wants_kind(ItemKind::Notice)
    }
}

/// One thing in a calendar.
pub(super) struct Item<'a> {
    /// Stable identifier, without host.
    pub(super) uid: Uuid,
    /// Grows with each visible change.
    pub(super) sequence: u32,
    /// When it last changed.
    pub(super) changed_at: DateTime<Utc>,
    /// First day.
    pub(super) first: NaiveDate,
    /// Last day, inclusive.
    pub(super) last: NaiveDate,
    /// At most [`SUMMARY_MAX`] characters.
    pub(super) summary: Cow<'a, str>,
    /// Several lines.
    pub(super) description: Cow<'a, str>,
    /// `TENTATIVE`, `CONFIRMED` or `CANCELLED`.
    pub(super) status: &'static str,
    /// Its categories.
    pub(super) categories: Vec<String>,
    /// Reach slug; `None` for the whole watershed.
    pub(super) reach: Option<&'a str>,
}

impl<'a> Item<'a> {
    fn of_entry(entry: &'a Entry, language: Language) -> Self {
        let content = &entry.content;
        let (summary, description) = content.said_in(language);
        Self {
            uid: entry.uid,
            sequence: entry.sequence,
            changed_at: entry.changed_at,
            first: content.first,
            last: content.last,
            summary: Cow::Borrowed(summary),
            description: Cow::Borrowed(description),
            status: match content.status {
                EntryStatus::Tentative => "TENTATIVE",
                EntryStatus::Confirmed => "CONFIRMED",
                EntryStatus::Cancelled => "CANCELLED",
            },
            categories: vec![language.word("category", "emergence"), language.word("category", content.kind.as_str())],
            reach: Some(&content.reach),
        }
    }

    fn of_notice(notice: &'a Notice, view: &WatershedView, language: Language) -> Self {
        let place = place_name(notice, view);
        let told = language.date(notice.changed_at.with_timezone(&view.watershed.time_zone).date_naive());
        let told = say!(language, "feed-notice", place = place, date = told);
        Self {
            uid: notice_uid(notice),
            sequence: notice.sequence,
            changed_at: notice.changed_at,
            first: notice.from,
            last: notice.until,
            summary: Cow::Owned(one_line_within(&format!("{place}: {}", notice.words), SUMMARY_MAX)),
            description: Cow::Owned(format!("{}\n{told}", notice.words)),
            status: if notice.withdrawn_at.is_none() { "CONFIRMED" } else { "CANCELLED" },
            categories: vec![language.word("category", "notice")],
            reach: notice.reach.as_ref().map(Slug::as_str),
        }
    }
}

/// The name of the place that a notice speaks of.
pub(super) fn place_name<'a>(notice: &'a Notice, view: &'a WatershedView) -> &'a str {
    let Some(slug) = &notice.reach else { return &view.watershed.name };
    view.reaches.iter().find(|reach| reach.slug == *slug).map_or(slug.as_str(), |reach| &reach.name)
}

/// The stable identifier of a notice in calendars and feeds.
pub(super) fn notice_uid(notice: &Notice) -> Uuid {
    Uuid::new_v5(&namespace(), format!("{}/notice/{}", notice.watershed.key(), notice.id).as_bytes())
}

/// What a calendar of `view` shows to `reader` on `today`: notices first, then windows by their first day.
pub(super) fn items<'a>(
    view: &'a WatershedView,
    selection: &Selection,
    reader: Audience,
    today: NaiveDate,
    language: Language,
) -> Vec<Item<'a>> {
    let notices = view.notices.iter().filter(|notice| {
        notice.audience.includes(reader) && selection.wants_notice(notice) && is_notice_served(notice, today)
    });
    let windows = view.entries.iter().filter(|entry| is_served(entry, today) && selection.wants(entry));
    let mut items: Vec<Item<'a>> = windows.map(|entry| Item::of_entry(entry, language)).collect();
    items.sort_by_key(|item| (item.first, item.uid));
    let mut all: Vec<Item<'a>> = notices.map(|notice| Item::of_notice(notice, view, language)).collect();
    all.sort_by_key(|item| (item.first, item.uid));
    all.append(&mut items);
    all
}

/// As [`is_served`], for notices.
fn is_notice_served(notice: &Notice, today: NaiveDate) -> bool {
    match notice.withdrawn_at {
        Some(at) => today.signed_duration_since(at.date_naive()).num_days() <= CANCELLED_DAYS,
        None => notice.until + Days::new(365) >= today,
    }
}
