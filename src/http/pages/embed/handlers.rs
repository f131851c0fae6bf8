//! The embed and its files.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};

use super::{EmbedQuery, FRAME_SCRIPT, FRAME_STYLE, HOST_SCRIPT, Theme, frame, picture};
use crate::app::WatershedView;
use crate::app::document::{Faults, Rule};
use crate::http::extract::path_slug;
use crate::http::pages::handlers::{PAGE_CACHE, sent};
use crate::http::pages::page_view;
use crate::http::pages::units::Shown;
use crate::http::problem::{Kind, Problem};
use crate::http::query::Query;
use crate::http::respond::{self, ASSET_CACHE, FEED_CACHE, FORECAST_CACHE, Tag};
use crate::http::state::AppState;

/// `/embed/{w}` and `/embed/{w}.svg`
pub(crate) async fn embed(
    State(state): State<AppState>,
    Path(file): Path<String>,
    Query(query): Query<EmbedQuery>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let (name, image) = file.strip_suffix(".svg").map_or((&*file, false), |name| (name, true));
    let view = state.service.watershed(&path_slug("watershed", name)?)?;
    check(&view, &query, image)?;
    let page = page_view(&state.service, view, &query.reaches, (shown.units, shown.language)).await?;
    if image {
        let svg = picture(&page, &query).into_string();
        return Ok(respond::cached(&headers, svg, "image/svg+xml", Tag::Weak, FORECAST_CACHE));
    }
    Ok(sent(&headers, &shown, frame(&page, &query, &state.settings.public_url), PAGE_CACHE))
}

/// Refuses what this water does not have, and what an image cannot do.
fn check(view: &WatershedView, query: &EmbedQuery, image: bool) -> Result<(), Problem> {
    let mut faults = Faults::default();
    for slug in &query.reaches {
        if view.reach(slug).is_err() {
            faults.add_broken("reach", Rule::ReachHere(slug.clone()));
        }
    }
    for slug in &query.taxa {
        if !view.taxa.iter().any(|taxon| taxon.slug == *slug) {
            faults.add_broken("taxon", Rule::TaxonHere(slug.clone()));
        }
    }
    if image && query.theme == Some(Theme::Auto) {
        faults.add_broken("theme", Rule::ThemeOfImage);
    }
    if faults.is_empty() { Ok(()) } else { Err(Problem::with_faults(Kind::BadQuery, faults)) }
}

/// The script for the site around a frame. Its address is pasted into pages and must stay.
pub(crate) async fn host_script(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, HOST_SCRIPT, "text/javascript; charset=utf-8", Tag::Weak, FEED_CACHE)
}

/// The script of the frame.
pub(crate) async fn frame_script(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, FRAME_SCRIPT, "text/javascript; charset=utf-8", Tag::Weak, ASSET_CACHE)
}

/// The style of the frame.
pub(crate) async fn frame_style(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, FRAME_STYLE, "text/css; charset=utf-8", Tag::Weak, ASSET_CACHE)
}
