//! Tokens that keepers hand out.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::header::CACHE_CONTROL;
use axum::http::{HeaderValue, Response, StatusCode};

use super::{KeyParams, PageParams, PageQuery};
use crate::app::access;
use crate::app::document::{ErasureDocument, List, NewTokenDocument, TokenDocument, TokenInput};
use crate::domain::token::Token;
use crate::http::docs::{TokenErrors, WriteErrors};
use crate::http::extract::{Caller, Keeper, Posted, path_uuid};
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond;
use crate::http::state::AppState;

/// Tokens bound to the caller's watersheds, oldest first; never their secrets.
#[utoipa::path(get, path = "/v1/tokens", operation_id = "listTokens", tag = "tokens",
    security(("token" = [])), params(PageParams),
    responses((status = 200, description = "A page of tokens.", body = List<TokenDocument>), TokenErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    Keeper(keeper): Keeper,
    Query(PageQuery(page)): Query<PageQuery>,
) -> Result<Response<Bytes>, Problem> {
    let mut all = access::list(&state.service, &keeper).await?;
    all.sort_by_key(token_key);
    let shown = page.slice(&all, token_key);
    let (list, links) = page.list(shown, &state.url("/v1/tokens"), token_key, |token| TokenDocument::from(token));
    let mut response = respond::private_json(StatusCode::OK, &list, None)?;
    response.headers_mut().extend(links);
    Ok(response)
}

fn token_key(token: &Token) -> String {
    format!("{:020}{}", token.created_at.timestamp_micros(), token.id)
}

/// Makes a token. Its secret is in this answer and nowhere else: the same request under the same
/// Idempotency-Key is a conflict.
#[utoipa::path(post, path = "/v1/tokens", operation_id = "createToken", tag = "tokens",
    security(("token" = [])), params(KeyParams), request_body = TokenInput,
    responses((status = 201, description = "Made.", body = NewTokenDocument,
        headers(("Location" = String, description = "Its address"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    Keeper(keeper): Keeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (wish, once) = posted.read::<TokenInput>(keeper.id)?;
    let answer = access::create(&state.service, &keeper, &wish, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// One token.
#[utoipa::path(get, path = "/v1/tokens/{id}", operation_id = "getToken", tag = "tokens",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Token id")),
    responses((status = 200, description = "The token.", body = TokenDocument), TokenErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Keeper(keeper): Keeper,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let token = access::find(&state.service, &keeper, path_uuid("token", &id)?).await?;
    respond::private_json(StatusCode::OK, &TokenDocument::from(&token), None)
}

/// Revokes a token; the next request with it is refused.
#[utoipa::path(delete, path = "/v1/tokens/{id}", operation_id = "revokeToken", tag = "tokens",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Token id")),
    responses((status = 204, description = "Revoked."), TokenErrors))]
pub(crate) async fn revoke(
    State(state): State<AppState>,
    Keeper(keeper): Keeper,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    access::revoke(&state.service, &keeper, path_uuid("token", &id)?).await?;
    Ok(no_content())
}

/// Forgets the person behind a token and ends it: its name and the free text of its reports go, what
/// was observed stays. The holder may ask for it, and a keeper who manages the token. There is no way back.
#[utoipa::path(post, path = "/v1/tokens/{id}/erasure", operation_id = "eraseToken", tag = "tokens",
    security(("token" = [])),
    params(("id" = String, Path, description = "Token id, or `me` for the caller's own",
        pattern = "^(me|[0-9a-fA-F]{8}(-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12})$")),
    responses((status = 200, description = "Forgotten.", body = ErasureDocument), TokenErrors))]
pub(crate) async fn erase(
    State(state): State<AppState>,
    Caller(caller): Caller,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let id = if id == "me" { caller.id } else { path_uuid("token", &id)? };
    let document = access::erase(&state.service, &caller, id).await?;
    respond::private_json(StatusCode::OK, &document, None)
}

/// 204.
pub(super) fn no_content() -> Response<Bytes> {
    let mut response = Response::new(Bytes::empty());
    *response.status_mut() = StatusCode::NO_CONTENT;
    response.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static(respond::PRIVATE));
    response
}
