//! Watersheds.

use std::sync::Arc;

use axum::body::Body as Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, Response, StatusCode};

use super::{KeyParams, PageParams, PageQuery, matching, page_response};
use crate::app::document::input::WatershedPatch;
use crate::app::document::{List, WatershedDocument, WatershedInput, WatershedSummary};
use crate::app::{WatershedView, place};
use crate::http::docs::{ChangeErrors, PublicErrors, WriteErrors};
use crate::http::extract::{Json, Keeper, Posted, Water, WatershedKeeper};
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::{self, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// All watersheds.
#[utoipa::path(get, path = "/v1/watersheds", operation_id = "listWatersheds", tag = "places", params(PageParams),
    responses((status = 200, description = "A page of watersheds.", body = List<WatershedSummary>), PublicErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    Query(PageQuery(page)): Query<PageQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let snapshot = state.service.snapshot();
    let key = |view: &Arc<WatershedView>| view.watershed.slug.key();
    let document = |view: &Arc<WatershedView>| WatershedSummary::from(&view.watershed);
    let address = state.url("/v1/watersheds");
    page_response(&headers, &page, &address, snapshot.watersheds(), key, document, PLACE_CACHE)
}

/// One watershed with its reaches, gauges and taxa.
#[utoipa::path(get, path = "/v1/watersheds/{w}", operation_id = "getWatershed", tag = "places",
    params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The watershed.", body = WatershedDocument), PublicErrors))]
pub(crate) async fn get(Water(view): Water, _: Query<NoQuery>, headers: HeaderMap) -> Result<Response<Bytes>, Problem> {
    respond::cached_json(&headers, &place::watershed_document(&view), Tag::Strong, PLACE_CACHE)
}

/// Makes a watershed; the token that makes it becomes its keeper.
#[utoipa::path(post, path = "/v1/watersheds", operation_id = "createWatershed", tag = "places",
    security(("token" = [])), params(KeyParams), request_body = WatershedInput,
    responses((status = 201, description = "Made.", body = WatershedDocument,
        headers(("Location" = String, description = "Its address"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (watershed, once) = posted.read::<WatershedInput>(token.id)?;
    let answer = place::create_watershed(&state.service, &token, &watershed, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Changes a watershed.
#[utoipa::path(patch, path = "/v1/watersheds/{w}", operation_id = "changeWatershed", tag = "places",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    request_body = WatershedPatch,
    responses((status = 200, description = "Changed.", body = WatershedDocument), ChangeErrors))]
pub(crate) async fn change(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    _: Query<NoQuery>,
    headers: HeaderMap,
    Json(patch): Json,
) -> Result<Response<Bytes>, Problem> {
    let slug = &view.watershed.slug;
    place::change_watershed(&state.service, slug, patch, matching(&headers)).await?;
    let document = place::watershed_document(&*state.service.watershed(slug)?);
    respond::private_json(StatusCode::OK, &document, None)
}
