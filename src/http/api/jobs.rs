//! Long work.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{Response, StatusCode};

use crate::app::document::JobDocument;
use crate::app::jobs;
use crate::http::docs::TokenErrors;
use crate::http::extract::{Keeper, path_uuid};
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond;
use crate::http::state::AppState;

/// Where a job stands.
#[utoipa::path(get, path = "/v1/jobs/{id}", operation_id = "getJob", tag = "fits",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Job id")),
    responses((status = 200, description = "The job.", body = JobDocument), TokenErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let job = jobs::find(&state.service, &token, path_uuid("job", &id)?).await?;
    respond::private_json(StatusCode::OK, &JobDocument::from(&job), None)
}
