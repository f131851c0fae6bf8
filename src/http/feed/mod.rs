//! Calendar and news feeds, open or under a secret address.

use std::sync::Arc;

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, LAST_MODIFIED};
use axum::http::{HeaderMap, HeaderValue, Response};
use chrono::{DateTime, NaiveDate, Utc};
use utoipa::IntoParams;

use super::docs::FeedErrors;
use super::extract::path_slug;
use super::pages::units::LANGUAGE_RULE;
use super::problem::{Kind, Problem};
use super::query::{FromQuery, Query, QueryReader};
use super::respond::{self, FEED_CACHE, Tag};
use super::state::AppState;
use crate::app::document::Rule;
use crate::app::feed::{ItemKind, Reader, Selection, atom, calendar as written};
use crate::app::{AppError, WatershedView, feed_access};
use crate::domain::{AbundanceClass, Audience, Slug};
use crate::words::Language;

const ICS: &str = "text/calendar; charset=utf-8";
const ATOM: &str = "application/atom+xml; charset=utf-8";
/// Feeds under a secret address: for the one who asks alone.
const SECRET_CACHE: &str = "private, max-age=3600";

/// Which entries.
#[derive(Debug, Clone, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct FeedQuery {
    /// Only these reaches, repeated or separated by commas; default all.
    #[param(value_type = Option<String>)]
    reach: Vec<Slug>,
    /// Only these taxa, repeated or separated by commas; default all. Notices stay.
    #[param(value_type = Option<String>)]
    taxon: Vec<Slug>,
    /// Only what is expected to reach this class around its peak. Notices stay.
    #[param(value_type = Option<String>, pattern = "^(none|sparse|moderate|heavy)$", example = "moderate")]
    at_least: Option<AbundanceClass>,
    /// Only these kinds, repeated or separated by commas: `onset`, `peak`, `flight` (of spinners), `notice`;
    /// default all.
    #[param(value_type = Option<String>, pattern = "^(onset|peak|flight|notice)(,(onset|peak|flight|notice))*$",
        example = "onset,flight")]
    kind: Vec<ItemKind>,
    /// The language, `de` or `en`; default English, whatever a browser asks for: a subscription stays what it is.
    #[param(value_type = Option<String>, pattern = "^(de|en)$", example = "de")]
    lang: Option<Language>,
}

/// In which language.
#[derive(Debug, Clone, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct NewsQuery {
    /// The language, `de` or `en`; default English, whatever a browser asks for: a subscription stays what it is.
    #[param(value_type = Option<String>, pattern = "^(de|en)$", example = "de")]
    lang: Option<Language>,
}

impl FromQuery for NewsQuery {
    fn read(reader: &mut QueryReader) -> Self {
        Self { lang: reader.parsed("lang", LANGUAGE_RULE, Language::parse) }
    }
}

impl FromQuery for FeedQuery {
    fn read(reader: &mut QueryReader) -> Self {
        Self {
            reach: reader.slugs("reach"),
            taxon: reader.slugs("taxon"),
            at_least: reader
                .parsed("at_least", Rule::one_of(&AbundanceClass::WORDS), |text| AbundanceClass::parse(text).ok()),
            kind: reader.words("kind", &Rule::one_of(&ItemKind::WORDS), ItemKind::parse),
            lang: reader.parsed("lang", LANGUAGE_RULE, Language::parse),
        }
    }
}

impl From<FeedQuery> for Selection {
    fn from(query: FeedQuery) -> Self {
        Self { reaches: query.reach, taxa: query.taxon, at_least: query.at_least, kinds: query.kind }
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
    give_calendar(&state, None, &file, query, &headers).await
}

/// The same under a secret address, with notices for members.
#[utoipa::path(get, path = "/calendars/{key}/{w}.ics", operation_id = "secretCalendar", tag = "forecasts",
    params(("key" = String, Path, description = "Key of the address"),
        ("w" = String, Path, description = "Watershed slug"), FeedQuery),
    responses((status = 200, description = "The calendar.", body = String, content_type = "text/calendar"),
        FeedErrors))]
pub(crate) async fn secret_calendar(
    State(state): State<AppState>,
    Path((key, file)): Path<(String, String)>,
    Query(query): Query<FeedQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    give_calendar(&state, Some(&key), &file, query, &headers).await
}

async fn give_calendar(
    state: &AppState,
    key: Option<&str>,
    file: &str,
    query: FeedQuery,
    headers: &HeaderMap,
) -> Result<Response<Body>, Problem> {
    let name = file.strip_suffix(".ics").ok_or_else(|| Problem::not_found("calendar"))?;
    let (view, audience) = allowed(state, key, name).await?;
    // The clock's own date, whatever is shown as today: cancelled entries leave by it.
    let today = state.service.now().with_timezone(&view.watershed.time_zone).date_naive();
    let language = query.lang.unwrap_or_default();
    let feed = written(&view, &query.into(), reader(state, audience, today, language));
    Ok(give(&view, headers, feed, (ICS, "ics"), key.is_some()))
}

/// What is new on a watershed, as an Atom feed: starts that are near or have moved much, keepers' notices.
#[utoipa::path(get, path = "/feeds/{w}.atom", operation_id = "news", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug"), NewsQuery),
    responses((status = 200, description = "The feed.", body = String, content_type = "application/atom+xml"),
        FeedErrors))]
pub(crate) async fn news(
    State(state): State<AppState>,
    Path(file): Path<String>,
    Query(query): Query<NewsQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    give_news(&state, None, &file, query, &headers).await
}

/// The same under a secret address, with notices for members.
#[utoipa::path(get, path = "/feeds/{key}/{w}.atom", operation_id = "secretNews", tag = "forecasts",
    params(("key" = String, Path, description = "Key of the address"),
        ("w" = String, Path, description = "Watershed slug"), NewsQuery),
    responses((status = 200, description = "The feed.", body = String, content_type = "application/atom+xml"),
        FeedErrors))]
pub(crate) async fn secret_news(
    State(state): State<AppState>,
    Path((key, file)): Path<(String, String)>,
    Query(query): Query<NewsQuery>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    give_news(&state, Some(&key), &file, query, &headers).await
}

async fn give_news(
    state: &AppState,
    key: Option<&str>,
    file: &str,
    query: NewsQuery,
    headers: &HeaderMap,
) -> Result<Response<Body>, Problem> {
    let name = file.strip_suffix(".atom").ok_or_else(|| Problem::not_found("feed"))?;
    let (view, audience) = allowed(state, key, name).await?;
    let today = state.service.today(view.watershed.time_zone);
    let feed = atom(&view, reader(state, audience, today, query.lang.unwrap_or_default()));
    Ok(give(&view, headers, feed, (ATOM, "atom"), key.is_some()))
}

/// The water and what may be shown of it. Whoever has no right hears of an open water that its feeds are private, so
/// that a subscriber knows whom to ask.
async fn allowed(state: &AppState, key: Option<&str>, name: &str) -> Result<(Arc<WatershedView>, Audience), Problem> {
    let view = state.service.watershed(&path_slug("watershed", name)?)?;
    match feed_access::reader(&state.service, &view, key).await {
        Ok(audience) => Ok((view, audience)),
        Err(AppError::NotFound { .. }) => {
            let detail = match key {
                Some(_) => "This secret address does not hold, or no longer. A keeper can make another.",
                None => "The feeds of this water are private: a keeper can make a secret address.",
            };
            Err(Problem::new(Kind::NotFound, detail))
        }
        Err(error) => Err(error.into()),
    }
}

fn reader(state: &AppState, audience: Audience, today: NaiveDate, language: Language) -> Reader<'_> {
    Reader { audience, today, public_url: &state.settings.public_url, language }
}

fn give(
    view: &WatershedView,
    headers: &HeaderMap,
    (bytes, modified): (Vec<u8>, DateTime<Utc>),
    (content_type, ending): (&'static str, &str),
    secret: bool,
) -> Response<Body> {
    let cache = if secret { SECRET_CACHE } else { FEED_CACHE };
    let mut response = respond::cached(headers, bytes, content_type, Tag::Strong, cache);
    let out = response.headers_mut();
    if let Ok(value) = HeaderValue::from_str(&modified.format("%a, %d %b %Y %H:%M:%S GMT").to_string()) {
        out.insert(LAST_MODIFIED, value);
    }
    if let Ok(value) = HeaderValue::from_str(&format!("inline; filename=\"{}.{ending}\"", view.watershed.slug)) {
        out.insert(CONTENT_DISPOSITION, value);
    }
    response
}
