//! Is the process up, and does it serve?

use axum::extract::State;
use axum::http::header::CACHE_CONTROL;
use axum::http::{HeaderValue, Response};
use serde::Serialize;
use utoipa::ToSchema;

use crate::http::docs::PublicErrors;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond;
use crate::http::state::AppState;

/// One word.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Health {
    /// `up` or `ready`.
    #[schema(example = "up")]
    status: &'static str,
}

/// The process is up.
#[utoipa::path(get, path = "/healthz", operation_id = "health", tag = "service",
    responses((status = 200, description = "The process is up.", body = Health), PublicErrors))]
pub(crate) async fn health(_: Query<NoQuery>) -> Result<Response<axum::body::Body>, Problem> {
    word("up")
}

/// Migrations are done and the published forecasts are served.
#[utoipa::path(get, path = "/readyz", operation_id = "ready", tag = "service",
    responses((status = 200, description = "The service is ready.", body = Health), PublicErrors))]
pub(crate) async fn ready(
    State(state): State<AppState>,
    _: Query<NoQuery>,
) -> Result<Response<axum::body::Body>, Problem> {
    state.service.ready().await?;
    word("ready")
}

fn word(status: &'static str) -> Result<Response<axum::body::Body>, Problem> {
    let mut response = Response::new(axum::body::Body::from(respond::json_bytes(&Health { status })?));
    let headers = response.headers_mut();
    headers.insert(axum::http::header::CONTENT_TYPE, HeaderValue::from_static("application/json"));
    headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    Ok(response)
}
