//! A calendar to subscribe to (RFC 5545, RFC 7986).

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};

use super::ical::Writer;
use super::item::{Item, Selection, items};
use super::wording::as_of;
use super::{EntryStatus, is_served, placeholder_uid};
use crate::app::WatershedView;
use crate::app::said::in_language;
use crate::domain::Audience;
use crate::domain::season::Season;
use crate::say;
use crate::words::Language;

/// Largest feed, bytes.
const MOST_BYTES: usize = 256 * 1024;
/// Most entries in a feed.
const MOST_ENTRIES: usize = 400;
/// Room kept for the head of the calendar and its end.
const RESERVE_BYTES: usize = 8 * 1024;
/// Host part of identifiers: a name that never resolves, so that identifiers survive a move.
const UID_HOST: &str = "calendar.subimago.invalid";

/// Who reads a feed, and when.
#[derive(Debug, Clone, Copy)]
pub struct Reader<'a> {
    /// What may be shown.
    pub audience: Audience,
    /// The local date of the watershed.
    pub today: NaiveDate,
    /// Address under which the service is reached, without a slash at the end.
    pub public_url: &'a str,
    /// The language of the feed.
    pub language: Language,
}

/// The bytes of a calendar and when its content last changed.
#[must_use]
pub fn calendar(view: &WatershedView, selection: &Selection, reader: Reader<'_>) -> (Vec<u8>, DateTime<Utc>) {
    let Reader { audience, today, public_url: url, language } = reader;
    let shown = items(view, selection, audience, today, language);
    let season = Season::containing(today);
    let beginning = season.first_day().and_time(NaiveTime::MIN).and_utc();
    let modified = shown.iter().map(|item| item.changed_at).max().unwrap_or(beginning);
    let slug = &view.watershed.slug;
    let mut out = Writer::default();
    out.raw("BEGIN", "VCALENDAR");
    out.raw("VERSION", "2.0");
    out.raw("PRODID", &format!("-//Subimago//Emergence calendar//{}", language.of_names().to_uppercase()));
    out.raw("CALSCALE", "GREGORIAN");
    out.raw("METHOD", "PUBLISH");
    for property in ["NAME", "X-WR-CALNAME"] {
        out.text(property, &say!(language, "feed-calendar-name", water = &view.watershed.name));
    }
    let (events, left_out) = within_bounds(&shown, &format!("{url}/w/{slug}"), today, language);
    let about = about(view, selection, today, left_out, language);
    for property in ["DESCRIPTION", "X-WR-CALDESC"] {
        out.text(property, &about);
    }
    out.raw("REFRESH-INTERVAL;VALUE=DURATION", "PT12H");
    out.raw("X-PUBLISHED-TTL", "PT12H");
    out.instant("LAST-MODIFIED", modified);
    // A calendar that is passed on must not carry the secret address it was read from.
    if audience == Audience::Everyone {
        out.raw("SOURCE;VALUE=URI", &in_language(language, format!("{url}/calendars/{slug}.ics")));
    }
    out.raw("URL", &in_language(language, format!("{url}/w/{slug}")));
    out.raw("COLOR", "teal");
    if shown.is_empty() {
        placeholder(&mut out, view, season, beginning, reader);
    }
    for event in events {
        out.append(event);
    }
    out.raw("END", "VCALENDAR");
    (out.into_bytes(), modified)
}

/// The events of `shown` that a feed has room for, in their order, and how many are left out: past ones first, the
/// oldest before the others, then those that lie furthest ahead.
fn within_bounds(shown: &[Item<'_>], page: &str, today: NaiveDate, language: Language) -> (Vec<Writer>, usize) {
    let mut by_use: Vec<(usize, &Item<'_>)> = shown.iter().enumerate().collect();
    by_use.sort_by_key(|(_, item)| match item.last {
        last if last < today => (1, (today - last).num_days()),
        _ => (0, (item.first - today).num_days().max(0)),
    });
    let mut bytes = 0;
    let mut kept: Vec<(usize, Writer)> = by_use
        .into_iter()
        .take(MOST_ENTRIES)
        .map_while(|(place, item)| {
            let mut event = Writer::default();
            write_event(&mut event, item, page, language);
            bytes += event.len();
            (bytes + RESERVE_BYTES <= MOST_BYTES).then_some((place, event))
        })
        .collect();
    kept.sort_by_key(|(place, _)| *place);
    let left_out = shown.len() - kept.len();
    (kept.into_iter().map(|(_, event)| event).collect(), left_out)
}

/// What the calendar is, from when its data are, whether they are old, and whether it has room for everything.
fn about(view: &WatershedView, selection: &Selection, today: NaiveDate, left_out: usize, language: Language) -> String {
    let told = view.entries.iter().map(|entry| (&entry.content, entry));
    let current: Vec<_> = told
        .filter(|(content, entry)| {
            content.status != EntryStatus::Cancelled && is_served(entry, today) && selection.wants(entry)
        })
        .map(|(content, _)| content)
        .collect();
    let mut words = vec![say!(language, "feed-calendar-about")];
    words.extend(current.iter().filter_map(|content| content.as_of).max().map(|date| as_of(language, date)));
    if current.iter().any(|content| content.stale) {
        words.push(say!(language, "feed-stale"));
    }
    if left_out > 0 {
        words.push(say!(language, "feed-left-out", count = left_out));
    }
    words.push(say!(language, "feed-safety"));
    words.join(" ")
}

fn write_event(out: &mut Writer, item: &Item<'_>, page: &str, language: Language) {
    out.raw("BEGIN", "VEVENT");
    out.raw("UID", &format!("{}@{UID_HOST}", item.uid));
    out.instant("DTSTAMP", item.changed_at);
    out.instant("LAST-MODIFIED", item.changed_at);
    out.raw("SEQUENCE", &item.sequence.to_string());
    out.all_day(item.first, item.last);
    out.text("SUMMARY", &item.summary);
    out.text("DESCRIPTION", &item.description);
    out.raw("STATUS", item.status);
    out.raw("TRANSP", "TRANSPARENT");
    out.raw("X-MICROSOFT-CDO-BUSYSTATUS", "FREE");
    out.texts("CATEGORIES", &item.categories);
    match item.reach {
        Some(reach) => out.raw("URL", &in_language(language, format!("{page}/reaches/{reach}"))),
        None => out.raw("URL", &in_language(language, page.to_owned())),
    }
    out.raw("END", "VEVENT");
}

/// One entry, because some programs refuse a calendar that has become empty.
fn placeholder(out: &mut Writer, view: &WatershedView, season: Season, stamp: DateTime<Utc>, reader: Reader<'_>) {
    let Reader { public_url: url, language, .. } = reader;
    let slug = &view.watershed.slug;
    out.raw("BEGIN", "VEVENT");
    out.raw("UID", &format!("{}@{UID_HOST}", placeholder_uid(slug, season.year)));
    out.instant("DTSTAMP", stamp);
    out.instant("LAST-MODIFIED", stamp);
    out.raw("SEQUENCE", "0");
    out.all_day(season.first_day(), season.first_day());
    out.text("SUMMARY", &say!(language, "feed-placeholder"));
    out.text("DESCRIPTION", &say!(language, "feed-placeholder-words"));
    out.raw("STATUS", "TENTATIVE");
    out.raw("TRANSP", "TRANSPARENT");
    out.raw("X-MICROSOFT-CDO-BUSYSTATUS", "FREE");
    out.texts("CATEGORIES", &[language.word("category", "emergence")]);
    out.raw("URL", &in_language(language, format!("{url}/w/{slug}")));
    out.raw("END", "VEVENT");
}
