//! From address to page.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};
use maud::Markup;

use super::{
    HTML, PageView, about, calendar_sheet, card, digest, home, layout, page_view, problems, reach, season_page, skill,
    taxon, watershed,
};
use crate::app::{fit_doubts, gauge_detail, guidance, skill as scores};
use crate::http::extract::path_slug;
use crate::http::problem::Problem;
use crate::http::respond::{self, ASSET_CACHE, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// Pages change while fits run: they are looked at anew each time, and 304 is cheap.
pub(super) const PAGE_CACHE: &str = "public, max-age=0, must-revalidate";

pub(super) fn sent(headers: &HeaderMap, page: Markup, cache: &'static str) -> Response<Body> {
    respond::cached(headers, page.into_string(), HTML, Tag::Weak, cache)
}

/// What the pages of a whole water show; `w` is its slug as it stands in the address.
async fn water_page(state: &AppState, w: &str) -> Result<PageView, Problem> {
    let view = state.service.watershed(&path_slug("watershed", w)?)?;
    Ok(page_view(&state.service, view, &[]).await?)
}

/// `/`
pub(crate) async fn home_page(State(state): State<AppState>, headers: HeaderMap) -> Result<Response<Body>, Problem> {
    let waters: Vec<_> = state
        .service
        .snapshot()
        .watersheds()
        .iter()
        .map(|view| {
            let fitting = state.service.fitting(&view.watershed.slug);
            let words = fitting.map(|progress| format!("Fitting {} of {}", progress.done, progress.total));
            (view.clone(), words)
        })
        .collect();
    Ok(sent(&headers, home::home(&waters), PAGE_CACHE))
}

/// `/w/{w}`
pub(crate) async fn watershed_page(
    State(state): State<AppState>,
    Path(w): Path<String>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = water_page(&state, &w).await?;
    Ok(sent(&headers, watershed::watershed(&page, &state.settings), PAGE_CACHE))
}

/// `/w/{w}/reaches/{r}`
pub(crate) async fn reach_page(
    State(state): State<AppState>,
    Path((w, r)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let shown = view.reach(&path_slug("reach", &r)?)?;
    let page = page_view(&state.service, view, std::slice::from_ref(&shown.slug)).await?;
    let advice = guidance::guidance_of_today(&state.service, &page.view, &shown).await?;
    // The forecast comes from memory: a database that does not answer must not take it away.
    let silent = gauge_detail::silent_gauges(&state.service, &page.view, &shown).await.unwrap_or_else(|error| {
        tracing::warn!(%error, "how fetching went could not be read and is left out of a page");
        Vec::new()
    });
    Ok(sent(&headers, reach::reach(&page, &shown, &advice, &silent), PAGE_CACHE))
}

/// `/w/{w}/reaches/{r}/card`
pub(crate) async fn evening_card(
    State(state): State<AppState>,
    Path((w, r)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let shown = view.reach(&path_slug("reach", &r)?)?;
    let page = page_view(&state.service, view, std::slice::from_ref(&shown.slug)).await?;
    let advice = match card::moment(&page) {
        Some(at) => {
            let query = guidance::GuidanceQuery { at: Some(at), ..guidance::GuidanceQuery::default() };
            Some(guidance::guidance(&state.service, &page.view, &shown, &query).await?)
        }
        None => None,
    };
    let card = card::card(&page, &shown, advice.as_ref(), &state.settings.public_url);
    Ok(sent(&headers, card, PAGE_CACHE))
}

/// `/w/{w}/digest.txt`
pub(crate) async fn weekly_digest(
    State(state): State<AppState>,
    Path(w): Path<String>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = water_page(&state, &w).await?;
    let text = digest::digest(&page, &state.settings.public_url);
    Ok(respond::cached(&headers, text, "text/plain; charset=utf-8", Tag::Weak, PAGE_CACHE))
}

/// `/w/{w}/season`
pub(crate) async fn season(
    State(state): State<AppState>,
    Path(w): Path<String>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = water_page(&state, &w).await?;
    Ok(sent(&headers, season_page::season_page(&page), PAGE_CACHE))
}

/// `/w/{w}/print`
pub(crate) async fn sheet(
    State(state): State<AppState>,
    Path(w): Path<String>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let page = water_page(&state, &w).await?;
    Ok(sent(&headers, calendar_sheet::sheet(&page, &state.settings.public_url), PAGE_CACHE))
}

/// `/w/{w}/taxa/{t}`
pub(crate) async fn taxon_page(
    State(state): State<AppState>,
    Path((w, t)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let wanted = path_slug("taxon", &t)?;
    let shown = view.taxa.iter().find(|taxon| taxon.slug == wanted).cloned();
    let shown = shown.ok_or_else(|| Problem::not_found("taxon"))?;
    let scored = scores::stored_skill(&state.service, &view.watershed.slug).await?;
    let doubts = fit_doubts::doubts(&state.service, &view.watershed.slug, &shown).await?;
    let page = page_view(&state.service, view, &[]).await?;
    Ok(sent(&headers, taxon::taxon(&page, &shown, &scored, &doubts), PAGE_CACHE))
}

/// `/w/{w}/skill`
pub(crate) async fn skill_page(
    State(state): State<AppState>,
    Path(w): Path<String>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let view = state.service.watershed(&path_slug("watershed", &w)?)?;
    let scored = scores::stored_skill(&state.service, &view.watershed.slug).await?;
    let page = page_view(&state.service, view, &[]).await?;
    Ok(sent(&headers, skill::skill(&page, &scored), PAGE_CACHE))
}

/// `/about`
pub(crate) async fn about_page(headers: HeaderMap) -> Response<Body> {
    sent(&headers, about::about(), PLACE_CACHE)
}

/// `/problems/`
pub(crate) async fn problems_page(headers: HeaderMap) -> Response<Body> {
    sent(&headers, problems::index(), PLACE_CACHE)
}

/// `/problems/{kind}`
pub(crate) async fn problem_page(Path(kind): Path<String>, headers: HeaderMap) -> Result<Response<Body>, Problem> {
    let page = problems::one(&kind).ok_or_else(|| Problem::not_found("kind of problem"))?;
    Ok(sent(&headers, page, PLACE_CACHE))
}

/// The style sheet; the query only names its version.
pub(crate) async fn style(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, layout::STYLE, "text/css; charset=utf-8", Tag::Weak, ASSET_CACHE)
}

/// The site's mark.
pub(crate) async fn favicon(headers: HeaderMap) -> Response<Body> {
    respond::cached(&headers, layout::FAVICON, "image/svg+xml", Tag::Weak, PLACE_CACHE)
}
