//! The report form and its files.

use axum::body::Body;
use axum::extract::State;
use axum::http::{HeaderMap, Response};

use super::{SCRIPT, STYLE, Start, WORKER, choose, form};
use crate::app::document::Rule;
use crate::domain::Slug;
use crate::http::pages::handlers::{PAGE_CACHE, sent};
use crate::http::pages::units::{LANGUAGE_RULE, Shown, UNITS_RULE, Units};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, QueryReader};
use crate::http::respond::{self, ASSET_CACHE, Tag};
use crate::http::state::AppState;
use crate::words::Language;

const SCRIPT_TYPE: &str = "text/javascript; charset=utf-8";

/// Where the visit was.
#[derive(Debug, Clone)]
pub(crate) struct ReportQuery {
    /// The water.
    w: Option<Slug>,
    /// Its reach.
    r: Option<Slug>,
}

impl FromQuery for ReportQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let slug = |text: &str| Slug::new(text).ok();
        // Read with the page (see `Shown`), which carries it on.
        reader.parsed("units", UNITS_RULE, Units::of_word);
        reader.parsed("lang", LANGUAGE_RULE, Language::parse);
        Self { w: reader.parsed("w", Rule::Slug, slug), r: reader.parsed("r", Rule::Slug, slug) }
    }
}

/// `/report`: the form of the water named, or of the only one there is; else the waters to choose from.
pub(crate) async fn report_page(
    State(state): State<AppState>,
    Query(query): Query<ReportQuery>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let snapshot = state.service.snapshot();
    let view = match (&query.w, snapshot.watersheds()) {
        (Some(slug), _) => state.service.watershed(slug)?,
        (None, [only]) => only.clone(),
        (None, waters) => return Ok(sent(&headers, &shown, choose(shown.language, shown.units, waters), PAGE_CACHE)),
    };
    if let Some(slug) = &query.r {
        view.reach(slug)?;
    }
    let start = Start {
        view: &view,
        reach: query.r.as_ref(),
        today: state.service.date_of_its_own(),
        units: shown.units,
        language: shown.language,
    };
    Ok(sent(&headers, &shown, form(start), PAGE_CACHE))
}

/// The form's script.
pub(crate) async fn script(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, SCRIPT, SCRIPT_TYPE, Tag::Weak, ASSET_CACHE)
}

/// The form's style.
pub(crate) async fn style(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, STYLE, "text/css; charset=utf-8", Tag::Weak, ASSET_CACHE)
}

/// The worker that opens the form without signal.
pub(crate) async fn worker(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, WORKER, SCRIPT_TYPE, Tag::Weak, PAGE_CACHE)
}
