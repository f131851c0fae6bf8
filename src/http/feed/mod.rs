//! Calendar feeds.

mod ical;

use std::sync::Arc;

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, LAST_MODIFIED};
use axum::http::{HeaderMap, HeaderValue, Response};
use chrono::{DateTime, NaiveTime, Utc};
use utoipa::IntoParams;

use super::docs::FeedErrors;
use super::extract::path_slug;
use super::problem::Problem;
use super::query::{FromQuery, Query, QueryReader};
use super::respond::{self, FEED_CACHE, Tag};
use super::state::AppState;
use crate::app::WatershedView;
use crate::app::feed::{Entry, EntryStatus, is_served, placeholder_uid};
use crate::domain::season::Season;
use crate::domain::{AbundanceClass, Slug};
use ical::Writer;

/// Largest feed, bytes.
const MOST_BYTES: usize = 256 * 1024;
/// Most entries in a feed.
const MOST_ENTRIES: usize = 400;
/// Room kept for one more entry and the end of the calendar.
const RESERVE_BYTES: usize = 4 * 1024;
/// Host part of identifiers: a name that never resolves, so that identifiers survive a move.
const UID_HOST: &str = "calendar.subimago.invalid";

/// Which entries.
#[derive(Debug, Clone, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct FeedQuery {
    /// Only these reaches, repeated or separated by commas; default all.
    #[param(value_type = Option<String>)]
    reach: Vec<Slug>,
    /// Only these taxa, repeated or separated by commas; default all.
    #[param(value_type = Option<String>)]
    taxon: Vec<Slug>,
    /// Only what is expected to reach this class around its peak.
    #[param(value_type = Option<String>, pattern = "^(none|sparse|moderate|heavy)$", example = "moderate")]
    at_least: Option<AbundanceClass>,
}

impl FromQuery for FeedQuery {
    fn read(reader: &mut QueryReader) -> Self {
        Self {
            reach: reader.slugs("reach"),
            taxon: reader.slugs("taxon"),
            at_least: reader.parsed("at_least", "must be one of none, sparse, moderate, heavy", |text| {
                AbundanceClass::parse(text).ok()
            }),
        }
    }
}

impl FeedQuery {
    fn wants(&self, entry: &Entry) -> bool {
        let named = |list: &[Slug], text: &str| {
            list.is_empty() || list.iter().any(|slug| slug.as_str().eq_ignore_ascii_case(text))
        };
        named(&self.reach, &entry.content.reach)
            && named(&self.taxon, &entry.content.taxon)
            && self.at_least.is_none_or(|class| usize::from(entry.content.class_index) >= class.index())
    }
}

/// The coming emergences of a watershed as a calendar to subscribe to.
#[utoipa::path(get, path = "/calendars/{w}.ics", operation_id = "calendar", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug"), FeedQuery),
    responses((status = 200, description = "The calendar.", body = String, content_type = "text/calendar"),
        FeedErrors))]
pub(crate) async fn calendar(
    State(state): State<AppState>,
    Path(file): Path<String>,
    Query(query): Query<FeedQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let name = file.strip_suffix(".ics").ok_or_else(|| Problem::not_found("calendar"))?;
    let view = state.service.watershed(&path_slug("watershed", name)?)?;
    let (bytes, modified) = write(&view, &query, state.service.now(), &state.settings.public_url);
    let mut response = respond::cached(&headers, bytes, "text/calendar; charset=utf-8", Tag::Strong, FEED_CACHE);
    let out = response.headers_mut();
    if let Ok(value) = HeaderValue::from_str(&modified.format("%a, %d %b %Y %H:%M:%S GMT").to_string()) {
        out.insert(LAST_MODIFIED, value);
    }
    if let Ok(value) = HeaderValue::from_str(&format!("inline; filename=\"{}.ics\"", view.watershed.slug)) {
        out.insert(CONTENT_DISPOSITION, value);
    }
    Ok(response)
}

/// The bytes of a feed and when its content last changed.
fn write(view: &WatershedView, query: &FeedQuery, now: DateTime<Utc>, url: &str) -> (Vec<u8>, DateTime<Utc>) {
    let today = now.with_timezone(&view.watershed.time_zone).date_naive();
    let mut entries: Vec<&Arc<Entry>> =
        view.entries.iter().filter(|entry| is_served(entry, today) && query.wants(entry)).collect();
    entries.sort_by_key(|entry| (entry.content.first, entry.uid));
    let season = Season::containing(today);
    let beginning = season.first_day().and_time(NaiveTime::MIN).and_utc();
    let modified = entries.iter().map(|entry| entry.changed_at).max().unwrap_or(beginning);
    let slug = &view.watershed.slug;
    let mut out = Writer::default();
    out.raw("BEGIN", "VCALENDAR");
    out.raw("VERSION", "2.0");
    out.raw("PRODID", "-//Subimago//Emergence calendar//EN");
    out.raw("CALSCALE", "GREGORIAN");
    out.raw("METHOD", "PUBLISH");
    for property in ["NAME", "X-WR-CALNAME"] {
        out.text(property, &format!("{}: emergences", view.watershed.name));
    }
    for property in ["DESCRIPTION", "X-WR-CALDESC"] {
        out.text(
            property,
            "When water insects are expected to start and to peak. A forecast is not a safety statement.",
        );
    }
    out.raw("REFRESH-INTERVAL;VALUE=DURATION", "PT12H");
    out.raw("X-PUBLISHED-TTL", "PT12H");
    out.instant("LAST-MODIFIED", modified);
    out.raw("SOURCE;VALUE=URI", &format!("{url}/calendars/{slug}.ics"));
    out.raw("URL", &format!("{url}/w/{slug}"));
    out.raw("COLOR", "teal");
    if entries.is_empty() {
        placeholder(&mut out, view, season, beginning, url);
    }
    // The latest entries are left out of a feed that would grow too large.
    for entry in entries.iter().take(MOST_ENTRIES) {
        if out.len() + RESERVE_BYTES > MOST_BYTES {
            break;
        }
        event(&mut out, entry, &format!("{url}/w/{slug}/reaches/{}", entry.content.reach));
    }
    out.raw("END", "VCALENDAR");
    (out.into_bytes(), modified)
}

fn event(out: &mut Writer, entry: &Entry, address: &str) {
    let content = &entry.content;
    out.raw("BEGIN", "VEVENT");
    out.raw("UID", &format!("{}@{UID_HOST}", entry.uid));
    out.instant("DTSTAMP", entry.changed_at);
    out.instant("LAST-MODIFIED", entry.changed_at);
    out.raw("SEQUENCE", &entry.sequence.to_string());
    out.all_day(content.first, content.last);
    out.text("SUMMARY", &content.summary);
    out.text("DESCRIPTION", &content.description);
    out.raw(
        "STATUS",
        match content.status {
            EntryStatus::Tentative => "TENTATIVE",
            EntryStatus::Cancelled => "CANCELLED",
        },
    );
    out.raw("TRANSP", "TRANSPARENT");
    out.raw("X-MICROSOFT-CDO-BUSYSTATUS", "FREE");
    out.texts("CATEGORIES", &["Emergence", content.kind.as_str()]);
    out.raw("URL", address);
    out.raw("END", "VEVENT");
}

/// One entry, because some programs refuse a calendar that has become empty.
fn placeholder(out: &mut Writer, view: &WatershedView, season: Season, stamp: DateTime<Utc>, url: &str) {
    let slug = &view.watershed.slug;
    out.raw("BEGIN", "VEVENT");
    out.raw("UID", &format!("{}@{UID_HOST}", placeholder_uid(slug, season.year)));
    out.instant("DTSTAMP", stamp);
    out.instant("LAST-MODIFIED", stamp);
    out.raw("SEQUENCE", "0");
    out.all_day(season.first_day(), season.first_day());
    out.text("SUMMARY", "No emergence is forecast here yet");
    out.text("DESCRIPTION", "This entry keeps the subscription alive; forecasts appear here once they are published.");
    out.raw("STATUS", "TENTATIVE");
    out.raw("TRANSP", "TRANSPARENT");
    out.raw("X-MICROSOFT-CDO-BUSYSTATUS", "FREE");
    out.texts("CATEGORIES", &["Emergence"]);
    out.raw("URL", &format!("{url}/w/{slug}"));
    out.raw("END", "VEVENT");
}
