//! What keepers decide on reports.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response, StatusCode};
use utoipa::IntoParams;

use super::reports::place_of;
use super::{PageParams, matching, matching_if_named};
use crate::app::document::{DecisionInput, List, ModerationDocument, ReportDocument, read};
use crate::app::moderation::Sought;
use crate::app::{AppError, moderation};
use crate::domain::ReportState;
use crate::http::docs::{ChangeErrors, TokenErrors};
use crate::http::extract::{Json, Keeper, WatershedKeeper, path_uuid};
use crate::http::paging::Page;
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, NoQuery, Query, QueryReader};
use crate::http::respond;
use crate::http::state::AppState;

/// Which reports to list.
#[derive(Debug, IntoParams)]
#[into_params(parameter_in = Query)]
pub(crate) struct ModerationQuery {
    /// Only those in this state: `new`, `accepted`, `needs_info` or `rejected`.
    #[param(value_type = Option<String>, pattern = "^(new|accepted|needs_info|rejected)$", example = "rejected")]
    state: Option<ReportState>,
    /// Only those that wait for a keeper: new, questioned, or accepted as they came and not looked at since they last
    /// changed.
    #[param(value_type = Option<bool>)]
    waiting: bool,
    #[param(ignore)]
    page: Page,
}

impl FromQuery for ModerationQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let rule = "must be one of new, accepted, needs_info, rejected";
        let state = reader.parsed("state", rule, |text| {
            ReportState::WORDS.iter().map(|(state, _)| *state).find(|state| state.as_str() == text)
        });
        let waiting = reader.yes("waiting");
        let mut filters: Vec<String> = state.iter().map(|state| format!("state={}", state.as_str())).collect();
        if waiting {
            filters.push("waiting=true".to_owned());
        }
        let page = Page::read(reader, filters.join("&"));
        Self { state, waiting, page }
    }
}

/// Reports of a watershed in every state, newest visit first, with who sent each and what happened to it.
#[utoipa::path(get, path = "/v1/watersheds/{w}/moderation", operation_id = "listModeration", tag = "reports",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"), ModerationQuery, PageParams),
    responses((status = 200, description = "A page of reports.", body = List<ModerationDocument>), TokenErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    Query(query): Query<ModerationQuery>,
) -> Result<Response<Bytes>, Problem> {
    let ModerationQuery { state: wanted, waiting, page } = query;
    let place = place_of(&state, &page.place).await?;
    let most = u32::try_from(page.limit + 1).unwrap_or(u32::MAX);
    let sought = Sought { state: wanted, waiting };
    let found = moderation::list(&state.service, &view.watershed.slug, sought, place, most).await?;
    let address = state.url(&format!("/v1/watersheds/{}/moderation", view.watershed.slug));
    let key = |document: &ModerationDocument| document.report.id.to_string();
    let (list, links) = page.list(found, &address, key, ModerationDocument::clone);
    let mut response = respond::private_json(StatusCode::OK, &list, None)?;
    response.headers_mut().extend(links);
    Ok(response)
}

/// One report with who sent it and what happened to it, for the keepers of its watershed.
#[utoipa::path(get, path = "/v1/reports/{id}/moderation", operation_id = "getModeration", tag = "reports",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Report id")),
    responses((status = 200, description = "The report and its history.", body = ModerationDocument), TokenErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let document = moderation::find(&state.service, &token, path_uuid("report", &id)?).await?;
    respond::private_json(StatusCode::OK, &document, None)
}

/// Decides on a report as a keeper of its watershed: `accepted` is used by models and shown, `rejected` sets it aside,
/// `needs_info` does so until its sender has mended it. The same decision again changes nothing.
#[utoipa::path(post, path = "/v1/reports/{id}/decision", operation_id = "decideReport", tag = "reports",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Report id"),
        ("If-Match" = Option<String>, Header, description = "ETag of the version read; without it, whatever is stored")),
    request_body = DecisionInput,
    responses((status = 200, description = "Decided.", body = ReportDocument), ChangeErrors))]
pub(crate) async fn decide(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    Path(id): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
    Json(value): Json,
) -> Result<Response<Bytes>, Problem> {
    let id = path_uuid("report", &id)?;
    let decision = read::<DecisionInput>(value).map_err(AppError::Faults)?;
    let approve = matching_if_named(&headers);
    let report = moderation::decide(&state.service, &token, id, &decision, approve).await?;
    respond::private_json(StatusCode::OK, &ReportDocument::from(&report), None)
}

/// Takes the last decision on a report back: it stands again where it stood before.
#[utoipa::path(delete, path = "/v1/reports/{id}/decision", operation_id = "takeDecisionBack", tag = "reports",
    security(("token" = [])),
    params(("id" = uuid::Uuid, Path, description = "Report id"),
        ("If-Match" = String, Header, description = "ETag of the report as read")),
    responses((status = 200, description = "Taken back.", body = ReportDocument), ChangeErrors))]
pub(crate) async fn take_back(
    State(state): State<AppState>,
    Keeper(token): Keeper,
    Path(id): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let id = path_uuid("report", &id)?;
    let report = moderation::take_back(&state.service, &token, id, matching(&headers)).await?;
    respond::private_json(StatusCode::OK, &ReportDocument::from(&report), None)
}
