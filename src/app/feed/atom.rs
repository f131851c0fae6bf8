//! News of a watershed as an Atom feed (RFC 4287): starts that are near, starts that moved much, notices.

use std::fmt::Write as _;

use chrono::{DateTime, Days, NaiveDate, NaiveTime, SecondsFormat, TimeDelta, Utc};
use quick_xml::escape::escape;
use uuid::Uuid;

use super::calendar::Reader;
use super::item::{notice_uid, place_name};
use super::plan::one_line;
use super::{Entry, EntryStatus, Told, WindowKind, namespace};
use crate::app::WatershedView;
use crate::app::called::called_brood;
use crate::app::said::in_language;
use crate::domain::season::Season;
use crate::domain::{Audience, Slug, Taxon};
use crate::say;
use crate::words::Language;

/// A start is near from this many days before its first day on.
const NEAR_DAYS: u64 = 7;
/// News stay this many days.
const KEPT_DAYS: i64 = 30;
/// Most news in a feed, newest first.
const MOST_NEWS: usize = 100;

struct News {
    id: Uuid,
    updated: DateTime<Utc>,
    title: String,
    words: String,
    category: &'static str,
    page: String,
}

/// The bytes of the feed and when it last changed.
#[must_use]
pub fn atom(view: &WatershedView, reader: Reader<'_>) -> (Vec<u8>, DateTime<Utc>) {
    let Reader { audience, today, public_url: url, language } = reader;
    let slug = &view.watershed.slug;
    let mut news: Vec<News> = view.entries.iter().flat_map(|entry| of_start(view, entry, reader)).collect();
    let holds = view.notices.iter().filter(|notice| notice.holds(today, audience));
    news.extend(holds.map(|notice| {
        let place = place_name(notice, view);
        News {
            id: notice_uid(notice),
            updated: notice.changed_at,
            title: say!(language, "news-notice", place = place, days = language.day_range(notice.from, notice.until)),
            words: notice.words.clone(),
            category: "notice",
            page: page(language, url, slug, notice.reach.as_ref().map(Slug::as_str)),
        }
    }));
    news.sort_by_key(|news| (std::cmp::Reverse(news.updated), news.id));
    news.truncate(MOST_NEWS);
    let beginning = Season::containing(today).first_day().and_time(NaiveTime::MIN).and_utc();
    let updated = news.iter().map(|news| news.updated).max().unwrap_or(beginning);
    let id = Uuid::new_v5(&namespace(), format!("{}/news", slug.key()).as_bytes());
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"utf-8\"?>\n");
    let tag = language.document_tag();
    let _ = writeln!(out, "<feed xmlns=\"http://www.w3.org/2005/Atom\" xml:lang=\"{tag}\">");
    let _ = writeln!(out, "  <id>urn:uuid:{id}</id>");
    let _ = writeln!(out, "  <title>{}</title>", said(&say!(language, "news-title", water = &view.watershed.name)));
    let _ = writeln!(out, "  <subtitle>{}</subtitle>", escape(say!(language, "news-subtitle")).replace("&apos;", "'"));
    let _ = writeln!(out, "  <updated>{}</updated>", instant(updated));
    let _ = writeln!(out, "  <author><name>{}</name></author>", said(&format!("Subimago, {}", view.watershed.name)));
    out.push_str("  <generator>Subimago</generator>\n");
    // A feed that is passed on must not carry the secret address it was read from.
    if audience == Audience::Everyone {
        let own = said(&in_language(language, format!("{url}/feeds/{slug}.atom")));
        let _ = writeln!(out, "  <link rel=\"self\" type=\"application/atom+xml\" href=\"{own}\"/>");
    }
    let _ = writeln!(
        out,
        "  <link rel=\"alternate\" type=\"text/html\" href=\"{}\"/>",
        said(&page(language, url, slug, None))
    );
    for news in &news {
        write(&mut out, news);
    }
    out.push_str("</feed>\n");
    (out.into_bytes(), updated)
}

fn write(out: &mut String, news: &News) {
    let _ = write!(
        out,
        "  <entry>\n    <id>urn:uuid:{}</id>\n    <title>{}</title>\n    <updated>{}</updated>\n    \
         <category term=\"{}\"/>\n    <link rel=\"alternate\" type=\"text/html\" href=\"{}\"/>\n    \
         <content type=\"text\">{}</content>\n  </entry>\n",
        news.id,
        said(&one_line(&news.title)),
        instant(news.updated),
        news.category,
        said(&news.page),
        said(&news.words)
    );
}

/// What is new about the start that `entry` speaks of: nothing, that it moved, that it is near.
fn of_start(view: &WatershedView, entry: &Entry, reader: Reader<'_>) -> Vec<News> {
    let Reader { today, public_url: url, language, .. } = reader;
    let content = &entry.content;
    let (_, description) = content.said_in(language);
    let Some(told) = &content.told else { return Vec::new() };
    if content.kind != WindowKind::Onset || content.status == EntryStatus::Cancelled {
        return Vec::new();
    }
    let insect = view.taxa.iter().find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(&content.taxon));
    let called = |taxon: &std::sync::Arc<Taxon>| called_brood(language, taxon, content.brood).to_string();
    let insect = insect.map_or(content.taxon.clone(), called);
    let reach = view.reaches.iter().find(|reach| reach.slug.as_str().eq_ignore_ascii_case(&content.reach));
    let place = reach.map_or(content.reach.clone(), |reach| reach.name.clone());
    let page = page(language, url, &view.watershed.slug, Some(&content.reach));
    let of_kind = |kind: &str, at: DateTime<Utc>| {
        Uuid::new_v5(&namespace(), format!("{}/{kind}/{}", entry.uid, at.timestamp()).as_bytes())
    };
    let mut news = Vec::new();
    if let Some(before) = told.before.filter(|_| age_days(told.at, today) <= KEPT_DAYS) {
        news.push(News {
            id: of_kind("moved", told.at),
            updated: told.at,
            title: say!(
                language,
                "news-moved",
                insect = &insect,
                place = &place,
                days = language.day_range(told.first, told.last)
            ),
            words: format!(
                "{description}\n{}",
                say!(language, "news-before", days = language.day_range(before.0, before.1))
            ),
            category: "moved",
            page: page.clone(),
        });
    }
    let near_from = told.first - Days::new(NEAR_DAYS);
    let over = told.last + TimeDelta::days(KEPT_DAYS);
    if (near_from..=over).contains(&today) {
        // Told by the day on which it came near, or later by the day on which it was moved so near.
        let updated = near_from.and_time(NaiveTime::MIN).and_utc().max(told.at);
        news.push(News {
            id: of_kind("near", DateTime::UNIX_EPOCH),
            updated,
            title: near_title(language, &insect, &place, told),
            words: description.to_owned(),
            category: "near",
            page,
        });
    }
    news
}

fn near_title(language: Language, insect: &str, place: &str, told: &Told) -> String {
    say!(language, "news-near", insect = insect, place = place, days = language.day_range(told.first, told.last))
}

fn age_days(at: DateTime<Utc>, today: NaiveDate) -> i64 {
    (today - at.date_naive()).num_days()
}

fn page(language: Language, url: &str, watershed: &Slug, reach: Option<&str>) -> String {
    let page = match reach {
        Some(reach) => format!("{url}/w/{watershed}/reaches/{reach}"),
        None => format!("{url}/w/{watershed}"),
    };
    in_language(language, page)
}

fn instant(at: DateTime<Utc>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// `text` for XML, without what XML cannot hold (XML 1.0, section 2.2).
fn said(text: &str) -> String {
    let clean: String = text
        .chars()
        .map(|c| if (c.is_control() && c != '\n') || matches!(c, '\u{fffe}' | '\u{ffff}') { ' ' } else { c })
        .collect();
    escape(clean).into_owned()
}
