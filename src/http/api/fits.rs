//! Fits of a watershed.

use axum::body::Body as Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, Response};

use super::{KeyParams, list_response};
use crate::app::document::{FitDocument, FitInput, JobDocument, List};
use crate::app::{jobs, skill};
use crate::http::docs::{PublicErrors, WriteErrors};
use crate::http::extract::{Posted, Water, WatershedKeeper};
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::{self, PLACE_CACHE};
use crate::http::state::AppState;

/// The latest fit of every taxon and brood.
#[utoipa::path(get, path = "/v1/watersheds/{w}/fits", operation_id = "listFits", tag = "fits",
    params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The fits.", body = List<FitDocument>), PublicErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    Water(view): Water,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let list = List::whole(skill::fits_with_cover(&state.service, &view.watershed.slug).await?);
    list_response(&headers, &list, HeaderMap::new(), PLACE_CACHE)
}

/// Queues a new fit, unless one that covers it is waiting already.
#[utoipa::path(post, path = "/v1/watersheds/{w}/fits", operation_id = "requestFit", tag = "fits",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug"), KeyParams),
    request_body = FitInput,
    responses((status = 202, description = "Queued.", body = JobDocument,
        headers(("Location" = String, description = "Address of the job"))), WriteErrors))]
pub(crate) async fn request(
    State(state): State<AppState>,
    WatershedKeeper { view, token }: WatershedKeeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (wish, once) = posted.read::<FitInput>(token.id)?;
    let answer = jobs::request_fit(&state.service, &view.watershed.slug, &wish, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}
