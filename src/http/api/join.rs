//! Join codes.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{Response, StatusCode};

use super::KeyParams;
use super::tokens::no_content;
use crate::app::document::{
    JoinCodeDocument, JoinCodeInput, JoinInput, List, NewJoinCodeDocument, NewTokenDocument, read,
};
use crate::app::{AppError, join};
use crate::http::docs::{JoinErrors, TokenErrors, WriteErrors};
use crate::http::extract::{Json, Posted, Tries, WatershedKeeper, path_uuid};
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond;
use crate::http::state::AppState;

/// The join codes of a watershed, oldest first, ended ones included; never the codes themselves.
#[utoipa::path(get, path = "/v1/watersheds/{w}/join-codes", operation_id = "listJoinCodes", tag = "tokens",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The codes.", body = List<JoinCodeDocument>), TokenErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let codes = join::list(&state.service, &view.watershed.slug).await?;
    let list = List::whole(codes.iter().map(JoinCodeDocument::from).collect());
    respond::private_json(StatusCode::OK, &list, None)
}

/// Makes a join code, which members exchange for tokens of their own. It is in this answer and nowhere else.
#[utoipa::path(post, path = "/v1/watersheds/{w}/join-codes", operation_id = "createJoinCode", tag = "tokens",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug"), KeyParams),
    request_body = JoinCodeInput,
    responses((status = 201, description = "Made.", body = NewJoinCodeDocument,
        headers(("Location" = String, description = "Its address, for revoking"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    WatershedKeeper { view, token }: WatershedKeeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (wish, once) = posted.read::<JoinCodeInput>(token.id)?;
    let answer = join::create(&state.service, &view.watershed.slug, &wish, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Revokes a join code; tokens that came by it stay.
#[utoipa::path(delete, path = "/v1/watersheds/{w}/join-codes/{id}", operation_id = "revokeJoinCode", tag = "tokens",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"), ("id" = uuid::Uuid, Path, description = "Code id")),
    responses((status = 204, description = "Revoked."), TokenErrors))]
pub(crate) async fn revoke(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    join::revoke(&state.service, &view.watershed.slug, path_uuid("code", &path.1)?).await?;
    Ok(no_content())
}

/// Exchanges a join code for a member token, whose secret is in this answer and nowhere else. Wrong codes are counted
/// with wrong tokens: after ten in a minute an address waits.
#[utoipa::path(post, path = "/v1/join", operation_id = "join", tag = "tokens", request_body = JoinInput,
    responses((status = 201, description = "A token of the member's own.", body = NewTokenDocument), JoinErrors))]
pub(crate) async fn exchange(
    State(state): State<AppState>,
    tries: Tries,
    _: Query<NoQuery>,
    Json(value): Json,
) -> Result<Response<Bytes>, Problem> {
    let wish = read::<JoinInput>(value).map_err(AppError::Faults)?;
    let document = join::join(&state.service, &wish).await.map_err(|error| match error {
        AppError::Unauthenticated => {
            tries.wrong(&state);
            let rule = "is not a code that holds: look at every letter, or ask a keeper for another";
            AppError::fault("#/code", "no_such_code", rule)
        }
        other => other,
    })?;
    respond::private_json(StatusCode::CREATED, &document, None)
}
