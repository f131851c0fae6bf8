//! How the feeds of a watershed are given, and their secret addresses.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response, StatusCode};

use super::tokens::no_content;
use super::{KeyParams, matching};
use crate::app::document::input::FeedsPatch;
use crate::app::document::{FeedAddressInput, FeedsDocument, NewFeedAddressDocument};
use crate::app::feed_access;
use crate::http::docs::{ChangeErrors, TokenErrors, WriteErrors};
use crate::http::extract::{Json, Posted, WatershedKeeper, path_uuid};
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond;
use crate::http::state::AppState;

/// How the calendar and the news of a watershed are given: to everyone, or under secret addresses alone.
#[utoipa::path(get, path = "/v1/watersheds/{w}/feeds", operation_id = "getFeeds", tag = "feeds",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "How they are given.", body = FeedsDocument), TokenErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let document = feed_access::feeds(&state.service, &view.watershed.slug).await?;
    respond::private_json(StatusCode::OK, &document, None)
}

/// Makes the feeds of a watershed private, or opens them again. Pages and forecasts stay public.
#[utoipa::path(patch, path = "/v1/watersheds/{w}/feeds", operation_id = "changeFeeds", tag = "feeds",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    request_body = FeedsPatch,
    responses((status = 200, description = "Changed.", body = FeedsDocument), ChangeErrors))]
pub(crate) async fn change(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    _: Query<NoQuery>,
    headers: HeaderMap,
    Json(wish): Json,
) -> Result<Response<Bytes>, Problem> {
    let document = feed_access::change(&state.service, &view.watershed.slug, wish, matching(&headers)).await?;
    respond::private_json(StatusCode::OK, &document, None)
}

/// Makes a secret address of the calendar and the news, which also hold notices for members. Its key is in this
/// answer and nowhere else; it opens nothing but these two.
#[utoipa::path(post, path = "/v1/watersheds/{w}/feeds/addresses", operation_id = "createFeedAddress", tag = "feeds",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug"), KeyParams),
    request_body = FeedAddressInput,
    responses((status = 201, description = "Made.", body = NewFeedAddressDocument,
        headers(("Location" = String, description = "Its address, for revoking"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    WatershedKeeper { view, token }: WatershedKeeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (name, once) = posted.read::<FeedAddressInput>(token.id)?;
    let answer = feed_access::create(&state.service, &view.watershed.slug, name, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Revokes a secret address; the next request with it is refused.
#[utoipa::path(delete, path = "/v1/watersheds/{w}/feeds/addresses/{id}", operation_id = "revokeFeedAddress",
    tag = "feeds", security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"),
        ("id" = uuid::Uuid, Path, description = "Address id")),
    responses((status = 204, description = "Revoked."), TokenErrors))]
pub(crate) async fn revoke(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    feed_access::revoke(&state.service, &view.watershed.slug, path_uuid("address", &path.1)?).await?;
    Ok(no_content())
}
