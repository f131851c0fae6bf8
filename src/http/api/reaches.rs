//! Reaches of a watershed.

use std::sync::Arc;

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response, StatusCode, Uri};

use super::{KeyParams, PageParams, PageQuery, ending, matching, page_response};
use crate::app::document::geography::{FeatureCollection, ReachProperties};
use crate::app::document::input::ReachPatch;
use crate::app::document::{List, ReachDocument, ReachInput};
use crate::app::place;
use crate::domain::Reach;
use crate::http::docs::{ChangeErrors, PublicErrors, WriteErrors};
use crate::http::extract::{Json, Posted, Water, WatershedKeeper, path_slug};
use crate::http::negotiate::Wanted;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::{self, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// The reaches of a watershed. As GeoJSON a point for each.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reaches", operation_id = "listReaches", tag = "places",
    params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "A page of reaches.",
        content((List<ReachDocument> = "application/json"), (FeatureCollection<ReachProperties> = "application/geo+json"))),
        PublicErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    Water(view): Water,
    Query(PageQuery(page)): Query<PageQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let address = state.url(&format!("/v1/watersheds/{}/reaches{}", view.watershed.slug, ending(&uri)));
    let key = |reach: &Arc<Reach>| reach.slug.key();
    if form == Wanted::GeoJson {
        let feature = |reach: &Arc<Reach>| ReachProperties::feature(&view.watershed.slug, reach);
        let (list, links) = page.list(page.slice(&view.reaches, key), &address, key, feature);
        let bytes = respond::json_bytes(&FeatureCollection::of(list.items))?;
        let mut response = respond::cached(&headers, bytes, form.content_type(), Tag::Weak, PLACE_CACHE);
        response.headers_mut().extend(links);
        return Ok(response);
    }
    page_response(&headers, &page, &address, &view.reaches, key, |reach| ReachDocument::from(&**reach), PLACE_CACHE)
}

/// One reach.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reaches/{r}", operation_id = "getReach", tag = "places",
    params(("w" = String, Path, description = "Watershed slug"), ("r" = String, Path, description = "Reach slug")),
    responses((status = 200, description = "The reach.", body = ReachDocument), PublicErrors))]
pub(crate) async fn get(
    Water(view): Water,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let reach = view.reach(&path_slug("reach", &path.1)?)?;
    respond::cached_json(&headers, &ReachDocument::from(&*reach), Tag::Strong, PLACE_CACHE)
}

/// Makes a reach.
#[utoipa::path(post, path = "/v1/watersheds/{w}/reaches", operation_id = "createReach", tag = "places",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug"), KeyParams),
    request_body = ReachInput,
    responses((status = 201, description = "Made.", body = ReachDocument,
        headers(("Location" = String, description = "Its address"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    WatershedKeeper { view, token }: WatershedKeeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (reach, once) = posted.read::<ReachInput>(token.id)?;
    let answer = place::create_reach(&state.service, &view.watershed.slug, &reach, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Changes a reach.
#[utoipa::path(patch, path = "/v1/watersheds/{w}/reaches/{r}", operation_id = "changeReach", tag = "places",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"), ("r" = String, Path, description = "Reach slug"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    request_body = ReachPatch,
    responses((status = 200, description = "Changed.", body = ReachDocument), ChangeErrors))]
pub(crate) async fn change(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
    headers: HeaderMap,
    Json(patch): Json,
) -> Result<Response<Bytes>, Problem> {
    let (watershed, slug) = (&view.watershed.slug, path_slug("reach", &path.1)?);
    place::change_reach(&state.service, watershed, &slug, patch, matching(&headers)).await?;
    let reach = state.service.watershed(watershed)?.reach(&slug)?;
    respond::private_json(StatusCode::OK, &ReachDocument::from(&*reach), None)
}
