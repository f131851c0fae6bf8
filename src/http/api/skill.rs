//! How good the forecasts of a watershed would have been.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response};

use super::list_response;
use crate::app::document::SkillDocument;
use crate::app::skill::stored_skill;
use crate::http::docs::PublicErrors;
use crate::http::extract::path_slug;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::PLACE_CACHE;
use crate::http::state::AppState;

/// Scores of every taxon, brood and clock by days ahead, with whole years left out.
#[utoipa::path(get, path = "/v1/watersheds/{w}/skill", operation_id = "getSkill", tag = "forecasts",
    params(("w" = String, Path, description = "Watershed slug")),
    responses((status = 200, description = "The scores; no rows until they are computed.", body = SkillDocument),
        PublicErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Path(w): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let document = stored_skill(&state.service, &path_slug("watershed", &w)?).await?;
    list_response(&headers, &document, HeaderMap::new(), PLACE_CACHE)
}
