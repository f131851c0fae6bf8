//! Tokens that keepers hand out.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::header::CACHE_CONTROL;
use axum::http::{HeaderValue, Response, StatusCode};

use super::{PageParams, PageQuery};
use crate::app::document::{List, NewTokenDocument, TokenDocument, TokenInput, read};
use crate::app::{AppError, access};
use crate::domain::token::Token;
use crate::http::docs::{TokenErrors, WriteErrors};
use crate::http::extract::{Json, Keeper, path_uuid};
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

/// Makes a token. Its secret is in this answer and nowhere else.
#[utoipa::path(post, path = "/v1/tokens", operation_id = "createToken", tag = "tokens",
    security(("token" = [])), request_body = TokenInput,
    responses((status = 201, description = "Made.", body = NewTokenDocument,
        headers(("Location" = String, description = "Its address"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    Keeper(keeper): Keeper,
    _: Query<NoQuery>,
    Json(value): Json,
) -> Result<Response<Bytes>, Problem> {
    let wish = read::<TokenInput>(value).map_err(AppError::Faults)?;
    let (token, secret) = access::create(&state.service, &keeper, &wish).await?;
    let location = state.url(&format!("/v1/tokens/{}", token.id));
    let document = NewTokenDocument { token: TokenDocument::from(&token), secret };
    respond::private_json(StatusCode::CREATED, &document, Some(&location))
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

/// 204.
pub(super) fn no_content() -> Response<Bytes> {
    let mut response = Response::new(Bytes::empty());
    *response.status_mut() = StatusCode::NO_CONTENT;
    response.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static(respond::PRIVATE));
    response
}
