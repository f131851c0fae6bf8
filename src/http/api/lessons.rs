//! What past seasons teach about the forecasts, and where the next visit would teach most.

use axum::body::Body as Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, Response};

use crate::app::document::{SeasonReviewDocument, SkillDocument, VisitPlanDocument};
use crate::app::{kept, skill};
use crate::http::docs::PublicErrors;
use crate::http::extract::Water;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::{self, FORECAST_CACHE, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// Scores of every taxon, brood and clock by days ahead, with whole years left out.
#[utoipa::path(get, path = "/v1/watersheds/{w}/skill", operation_id = "getSkill", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The scores; no rows until they are computed.", body = SkillDocument), PublicErrors))]
pub(crate) async fn scores(
    State(state): State<AppState>,
    Water(view): Water,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let document = skill::stored_skill(&state.service, &view.watershed.slug).await?;
    respond::cached_json(&headers, &document, Tag::Weak, PLACE_CACHE)
}

/// How early or late each season came, per taxon and clock, with the trend over the years.
#[utoipa::path(get, path = "/v1/watersheds/{w}/season-review", operation_id = "getSeasonReview", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The review of every fitted taxon.", body = SeasonReviewDocument), PublicErrors))]
pub(crate) async fn review(
    State(state): State<AppState>,
    Water(view): Water,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let document = kept::kept_review(&state.service, &view.watershed.slug).await?;
    respond::cached_json(&headers, document.as_ref(), Tag::Weak, PLACE_CACHE)
}

/// Reaches and days of the coming fortnight, ranked by how much a visit would narrow the forecasts.
#[utoipa::path(get, path = "/v1/watersheds/{w}/visit-plan", operation_id = "getVisitPlan", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The plan, the most useful visit first.", body = VisitPlanDocument), PublicErrors))]
pub(crate) async fn plan(
    State(state): State<AppState>,
    Water(view): Water,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let document = kept::kept_plan(&state.service, &view.watershed.slug).await?;
    respond::cached_json(&headers, document.as_ref(), Tag::Weak, FORECAST_CACHE)
}
