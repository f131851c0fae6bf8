//! From address to page.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_LANGUAGE, VARY};
use axum::http::{HeaderMap, HeaderValue, Response};
use maud::Markup;

use super::units::Shown;
use super::{
    HTML, PageView, about, calendar_sheet, card, digest, home, layout, page_view, problems, reach as reach_markup,
    season_page, skill, taxon, watershed,
};
use crate::app::{fit_doubts, gauge_detail, guidance, skill as scores};
use crate::http::extract::path_slug;
use crate::http::problem::Problem;
use crate::http::respond::{self, ASSET_CACHE, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// Pages change while fits run: they are looked at anew each time, and 304 is cheap.
pub(super) const PAGE_CACHE: &str = "public, max-age=0, must-revalidate";

pub(super) fn sent(headers: &HeaderMap, shown: &Shown, page: Markup, cache: &'static str) -> Response<Body> {
    by_language(shown, respond::cached(headers, shown.finish(&page.into_string()), HTML, Tag::Weak, cache))
}

/// `response` with what tells caches apart: the language, where the browser chose it.
pub(crate) fn by_language(shown: &Shown, mut response: Response<Body>) -> Response<Body> {
    if shown.varies {
        response.headers_mut().insert(VARY, HeaderValue::from_static("accept-language, accept-encoding"));
    }
    if let Ok(tag) = HeaderValue::from_str(shown.written_in().document_tag()) {
        response.headers_mut().insert(CONTENT_LANGUAGE, tag);
    }
    response
}

/// What the pages of a whole water show; `w` is its slug as it stands in the address.
async fn water_page(state: &AppState, shown: &Shown, w: &str) -> Result<PageView, Problem> {
    let view = state.service.watershed(&path_slug("watershed", w)?)?;
    Ok(page_view(&state.service, view, &[], (shown.units, shown.language)).await?)
}

/// `/`
pub(crate) async fn home_page(
    State(state): State<AppState>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let waters: Vec<_> = state
        .service
        .snapshot()
        .watersheds()
        .iter()
        .map(|view| {
            let fitting = state.service.fitting(&view.watershed.slug);
            (view.clone(), fitting)
        })
        .collect();
    Ok(sent(&headers, &shown, home::home(shown.language, &waters), PAGE_CACHE))
}

/// `/w/{w}`
pub(crate) async fn watershed_page(
    State(state): State<AppState>,
    Path(w): Path<String>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = water_page(&state, &shown, &w).await?;
    Ok(sent(&headers, &shown, watershed::watershed(&page, &state.settings), PAGE_CACHE))
}

/// `/w/{w}/reaches/{r}`
pub(crate) async fn reach_page(
    State(state): State<AppState>,
    Path((w, r)): Path<(String, String)>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let reach = view.reach(&path_slug("reach", &r)?)?;
    let page =
        page_view(&state.service, view, std::slice::from_ref(&reach.slug), (shown.units, shown.language)).await?;
    let advice = guidance::guidance_of_today(&state.service, &page.view, &reach, shown.language).await?;
    // The forecast comes from memory: a database that does not answer must not take it away.
    let silent = gauge_detail::silent_gauges(&state.service, &page.view, &reach).await.unwrap_or_else(|error| {
        tracing::warn!(%error, "how fetching went could not be read and is left out of a page");
        Vec::new()
    });
    Ok(sent(&headers, &shown, reach_markup::reach(&page, &reach, &advice, &silent), PAGE_CACHE))
}

/// `/w/{w}/reaches/{r}/card`
pub(crate) async fn evening_card(
    State(state): State<AppState>,
    Path((w, r)): Path<(String, String)>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let reach = view.reach(&path_slug("reach", &r)?)?;
    let page =
        page_view(&state.service, view, std::slice::from_ref(&reach.slug), (shown.units, shown.language)).await?;
    let advice = match card::moment(&page) {
        Some(at) => {
            let query = guidance::GuidanceQuery {
                at: Some(at),
                language: shown.language,
                ..guidance::GuidanceQuery::default()
            };
            Some(guidance::guidance(&state.service, &page.view, &reach, &query).await?)
        }
        None => None,
    };
    let card = card::card(&page, &reach, advice.as_ref(), &state.settings.public_url);
    Ok(sent(&headers, &shown, card, PAGE_CACHE))
}

/// `/w/{w}/digest.txt`
pub(crate) async fn weekly_digest(
    State(state): State<AppState>,
    Path(w): Path<String>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = water_page(&state, &shown, &w).await?;
    let text = digest::digest(&page, &state.settings.public_url);
    let response = respond::cached(&headers, text, "text/plain; charset=utf-8", Tag::Weak, PAGE_CACHE);
    Ok(by_language(&shown, response))
}

/// `/w/{w}/season`
pub(crate) async fn season(
    State(state): State<AppState>,
    Path(w): Path<String>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = water_page(&state, &shown, &w).await?;
    Ok(sent(&headers, &shown, season_page::season_page(&page), PAGE_CACHE))
}

/// `/w/{w}/print`
pub(crate) async fn sheet(
    State(state): State<AppState>,
    Path(w): Path<String>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = water_page(&state, &shown, &w).await?;
    Ok(sent(&headers, &shown, calendar_sheet::sheet(&page, &state.settings.public_url), PAGE_CACHE))
}

/// `/w/{w}/taxa/{t}`
pub(crate) async fn taxon_page(
    State(state): State<AppState>,
    Path((w, t)): Path<(String, String)>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let wanted = path_slug("taxon", &t)?;
    let found = view.taxa.iter().find(|taxon| taxon.slug == wanted).cloned();
    let found = found.ok_or_else(|| Problem::not_found("taxon"))?;
    let scored = scores::stored_skill(&state.service, &view.watershed.slug).await?;
    let doubts = fit_doubts::doubts(&state.service, &view.watershed.slug, &found).await?;
    let page = page_view(&state.service, view, &[], (shown.units, shown.language)).await?;
    Ok(sent(&headers, &shown, taxon::taxon(&page, &found, &scored, &doubts), PAGE_CACHE))
}

/// `/w/{w}/skill`
pub(crate) async fn skill_page(
    State(state): State<AppState>,
    Path(w): Path<String>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let scored = scores::stored_skill(&state.service, &view.watershed.slug).await?;
    let page = page_view(&state.service, view, &[], (shown.units, shown.language)).await?;
    Ok(sent(&headers, &shown, skill::skill(&page, &scored), PAGE_CACHE))
}

/// `/about`
pub(crate) async fn about_page(shown: Shown, headers: HeaderMap) -> Response<Body> {
    sent(&headers, &shown, about::about(shown.units, shown.language), PLACE_CACHE)
}

/// `/problems/`
pub(crate) async fn problems_page(shown: Shown, headers: HeaderMap) -> Response<Body> {
    sent(&headers, &shown, problems::index(shown.language), PLACE_CACHE)
}

/// `/problems/{kind}`
pub(crate) async fn problem_page(
    Path(kind): Path<String>,
    shown: Shown,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = problems::one(shown.language, &kind).ok_or_else(|| Problem::not_found("kind of problem"))?;
    Ok(sent(&headers, &shown, page, PLACE_CACHE))
}

/// The style sheet; the query only names its version.
pub(crate) async fn style(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, layout::STYLE, "text/css; charset=utf-8", Tag::Weak, ASSET_CACHE)
}

/// The site's mark.
pub(crate) async fn favicon(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, layout::FAVICON, "image/svg+xml", Tag::Weak, PLACE_CACHE)
}
