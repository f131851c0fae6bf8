//! What was seen confirms what was expected: an entry is tentative until somebody saw what it speaks of, within its
//! days and on its reach.

use chrono::NaiveDate;

use super::{Entry, EntryContent, EntryStatus, WindowKind};
use crate::domain::Slug;
use crate::say;
use crate::words::Language;

/// When something of a brood was seen on a reach, by an accepted report or a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeenDays {
    /// The reach.
    pub reach: Slug,
    /// The brood.
    pub brood: u8,
    /// True of spinners, false of insects that leave the water.
    pub flight: bool,
    /// First day it may have been.
    pub from: NaiveDate,
    /// Last day it may have been; the same for a visit.
    pub to: NaiveDate,
}

impl SeenDays {
    fn is_of(&self, content: &EntryContent) -> bool {
        self.flight == (content.kind == WindowKind::Flight)
            && self.brood == content.brood
            && self.reach.as_str().eq_ignore_ascii_case(&content.reach)
    }
}

/// `planned` as confirmed, where what it speaks of was seen within its days. What `stored` was confirmed by goes on
/// to confirm it when forecasts move its days later, as long as it is still told: subscribers hear of it once.
#[must_use]
pub fn confirmed(mut planned: EntryContent, stored: Option<&Entry>, seen: &[SeenDays]) -> EntryContent {
    let own = || seen.iter().filter(|one| one.is_of(&planned));
    let before = stored.and_then(|entry| entry.content.seen).filter(|day| own().any(|one| one.to == *day));
    let within = own().filter(|one| one.from >= planned.first && one.to <= planned.last).map(|one| one.to).min();
    let Some(since) = before.into_iter().chain(within).min() else { return planned };
    let flight = planned.kind == WindowKind::Flight;
    let said = |language: Language, description: &str| {
        let date = language.date(since);
        let seen = if flight {
            say!(language, "feed-seen-spinners", date = date)
        } else {
            say!(language, "feed-seen", date = date)
        };
        format!("{seen}\n{description}")
    };
    planned.description = said(Language::English, &planned.description);
    for (tag, saying) in &mut planned.translations {
        if let Some(language) = Language::parse(tag) {
            saying.description = said(language, &saying.description);
        }
    }
    planned.status = EntryStatus::Confirmed;
    planned.seen = Some(since);
    planned
}

#[cfg(test)]
mod tests {
    use chrono::{DateTime, TimeDelta};
    use uuid::Uuid;

    use super::super::{Saying, advance, cancel};
    use super::*;

    fn day(day: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(2026, 5, day).expect("a date")
    }

    fn planned(kind: WindowKind, first: u32, last: u32) -> EntryContent {
        EntryContent {
            reach: "Mill-Meadow".to_owned(),
            taxon: "x".to_owned(),
            brood: 1,
            season: 2026,
            kind,
            first: day(first),
            last: day(last),
            summary: "s".to_owned(),
            description: "d".to_owned(),
            translations: std::collections::BTreeMap::new(),
            status: EntryStatus::Tentative,
            class_index: 1,
            as_of: None,
            stale: false,
            told: None,
            seen: None,
        }
    }

    fn seen(from: u32, to: u32) -> SeenDays {
        let reach = Slug::new("mill-meadow").expect("a slug");
        SeenDays { reach, brood: 1, flight: false, from: day(from), to: day(to) }
    }

    #[test]
    fn only_what_the_entry_speaks_of_confirms_it() {
        let of = |one: SeenDays| confirmed(planned(WindowKind::Onset, 6, 14), None, &[one]).status;
        assert_eq!(of(seen(8, 8)), EntryStatus::Confirmed);
        assert_eq!(of(seen(6, 14)), EntryStatus::Confirmed, "a trap within the days");
        assert_eq!(of(seen(5, 8)), EntryStatus::Tentative, "a trap that stood before them");
        assert_eq!(of(seen(15, 15)), EntryStatus::Tentative);
        assert_eq!(of(SeenDays { brood: 2, ..seen(8, 8) }), EntryStatus::Tentative);
        assert_eq!(of(SeenDays { flight: true, ..seen(8, 8) }), EntryStatus::Tentative);
        let elsewhere = Slug::new("sluice").expect("a slug");
        assert_eq!(of(SeenDays { reach: elsewhere, ..seen(8, 8) }), EntryStatus::Tentative);
        let flight = confirmed(planned(WindowKind::Flight, 6, 14), None, &[SeenDays { flight: true, ..seen(9, 9) }]);
        assert_eq!(flight.description, "Spinners seen here since 9 May 2026.\nd");
    }

    #[test]
    fn subscribers_hear_once_and_again_when_it_was_an_error() {
        let at = |hours| DateTime::UNIX_EPOCH + TimeDelta::hours(hours);
        let uid = Uuid::nil();
        let put = |stored: Option<&Entry>, first, last, told: &[SeenDays], hours| {
            advance(stored, uid, confirmed(planned(WindowKind::Onset, first, last), stored, told), at(hours))
        };
        let first = put(None, 6, 14, &[], 0);
        assert_eq!((first.sequence, first.content.status), (0, EntryStatus::Tentative));
        let now = put(Some(&first), 6, 14, &[seen(8, 8)], 1);
        assert_eq!((now.sequence, now.content.seen), (1, Some(day(8))));
        let later = put(Some(&now), 6, 14, &[seen(10, 10), seen(8, 8)], 2);
        assert_eq!(later, now, "nothing new to tell");
        // The days move past the day it was seen: they are news, the standing is not.
        let moved = put(Some(&later), 9, 15, &[seen(8, 8)], 3);
        assert_eq!((moved.sequence, moved.content.status), (2, EntryStatus::Confirmed));
        assert_eq!(put(Some(&moved), 9, 15, &[seen(8, 8)], 4), moved);
        let mistaken = put(Some(&moved), 9, 15, &[], 5);
        assert_eq!((mistaken.sequence, mistaken.content.status), (3, EntryStatus::Tentative));
        assert_eq!(cancel(&now, at(6)).content.status, EntryStatus::Cancelled);
    }

    #[test]
    fn a_language_that_comes_later_is_no_news() {
        let at = |hours| DateTime::UNIX_EPOCH + TimeDelta::hours(hours);
        let bare = planned(WindowKind::Onset, 6, 14);
        let mut told = bare.clone();
        let saying = Saying { summary: "k".to_owned(), description: "b".to_owned() };
        told.translations.insert("de".to_owned(), saying);
        let first = advance(None, Uuid::nil(), bare, at(0));
        let later = advance(Some(&first), Uuid::nil(), told.clone(), at(5));
        assert_eq!((later.sequence, later.changed_at), (0, at(0)), "subscribers in English see no change");
        assert_eq!(later.content.said_in(Language::German), ("k", "b"));
        assert_eq!(first.content.said_in(Language::German), ("s", "d"), "stored before there was German");
        let seen = confirmed(told, None, &[seen(8, 8)]);
        assert_eq!(seen.said_in(Language::German).1, "Hier gesehen seit 8. Mai 2026.\nb");
    }
}
