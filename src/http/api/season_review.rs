//! How early or late seasons came.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};

use super::list_response;
use crate::app::document::SeasonReviewDocument;
use crate::app::season_review::season_review;
use crate::http::docs::PublicErrors;
use crate::http::extract::path_slug;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::PLACE_CACHE;
use crate::http::state::AppState;

/// How early or late each season came, per taxon and clock, with the trend over the years.
#[utoipa::path(get, path = "/v1/watersheds/{w}/season-review", operation_id = "getSeasonReview", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The review of every fitted taxon.", body = SeasonReviewDocument),
        PublicErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Path(w): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let document = season_review(&state.service, &path_slug("watershed", &w)?).await?;
    list_response(&headers, &document, HeaderMap::new(), PLACE_CACHE)
}
