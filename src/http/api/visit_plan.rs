//! Where and when looking would teach most.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};

use super::list_response;
use crate::app::document::VisitPlanDocument;
use crate::app::visit_plan::visit_plan;
use crate::http::docs::PublicErrors;
use crate::http::extract::path_slug;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::FORECAST_CACHE;
use crate::http::state::AppState;

/// Reaches and days of the coming fortnight, ranked by how much a visit would narrow the forecasts.
#[utoipa::path(get, path = "/v1/watersheds/{w}/visit-plan", operation_id = "getVisitPlan", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The plan, the most useful visit first.", body = VisitPlanDocument),
        PublicErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Path(w): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let document = visit_plan(&state.service, &path_slug("watershed", &w)?).await?;
    list_response(&headers, &document, HeaderMap::new(), FORECAST_CACHE)
}
