//! Field reports.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, Response, StatusCode, Uri};

use super::tokens::no_content;
use super::{PageParams, PageQuery, ending, list_response, matching, table_response};
use crate::app::document::input::ReportPatch;
use crate::app::document::{List, PublicReport, ReportDocument, ReportInput, SentDocument};
use crate::app::export::lists;
use crate::app::{moderation, report};
use crate::domain::Report;
use crate::http::docs::{ChangeErrors, PublicErrors, TokenErrors, WriteErrors};
use crate::http::extract::{Caller, Json, Posted, Water, path_uuid};
use crate::http::negotiate::Wanted;
use crate::http::paging::Place;
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::{self, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// Accepted reports of a watershed as everyone may see them, newest visit first. As CSV a row per sighting, and one
/// for each blank report.
#[utoipa::path(get, path = "/v1/watersheds/{w}/reports", operation_id = "listReports", tag = "reports",
    params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "A page of reports.",
        content((List<PublicReport> = "application/json"), (String = "text/csv"))), PublicErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    Water(view): Water,
    Query(PageQuery(page)): Query<PageQuery>,
    form: Wanted,
    uri: Uri,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let place = place_of(&state, &page.place).await?;
    let most = u32::try_from(page.limit + 1).unwrap_or(u32::MAX);
    let found = report::accepted(&state.service, &view.watershed.slug, place, most).await?;
    let address = state.url(&format!("/v1/watersheds/{}/reports{}", view.watershed.slug, ending(&uri)));
    let zone = view.watershed.time_zone;
    let (list, links) = page.list(found, &address, cursor_key, |report| PublicReport::of(report, zone));
    match form {
        Wanted::Csv => Ok(table_response(&headers, lists::reports(&list.items)?, links, PLACE_CACHE)),
        _ => list_response(&headers, &list, links, PLACE_CACHE),
    }
}

/// The place in the list of reports that a cursor names by an id.
pub(crate) async fn place_of(state: &AppState, place: &Place) -> Result<report::Page, Problem> {
    let of = async |id: &str| report::place_of(&state.service, path_uuid("report", id)?).await.map_err(Problem::from);
    Ok(match place {
        Place::First => report::Page::First,
        Place::After(id) => report::Page::After(of(id).await?),
        Place::Before(id) => report::Page::Before(of(id).await?),
    })
}

/// The hour of a visit is not public, so the key is the id alone.
fn cursor_key(report: &Report) -> String {
    report.id.to_string()
}

/// Files a report under an id of the client's own making.
#[utoipa::path(post, path = "/v1/reports", operation_id = "fileReport", tag = "reports",
    security(("token" = [])),
    params(("Idempotency-Key" = String, Header, min_length = 16, max_length = 255, pattern = "^[ -~]{16,255}$",
        description = "New for every new report; 16 to 255 printable ASCII characters")),
    request_body = ReportInput,
    responses((status = 201, description = "Stored.", body = ReportDocument,
            headers(("Location" = String, description = "Its address"))),
        (status = 200, description = "Stored before with the same content.", body = ReportDocument,
            headers(("Idempotent-Replayed" = String, description = "true"))), WriteErrors))]
pub(crate) async fn file(
    State(state): State<AppState>,
    Caller(token): Caller,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (new, once) = posted.keyed()?.read::<ReportInput>(token.id)?;
    let answer = report::file(&state.service, &token, once, new).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// The caller's own reports in every state, newest visit first, each with what a keeper wants to know or why it is not
/// used.
#[utoipa::path(get, path = "/v1/reports", operation_id = "listOwnReports", tag = "reports",
    security(("token" = [])), params(PageParams),
    responses((status = 200, description = "A page of reports.", body = List<SentDocument>), TokenErrors))]
pub(crate) async fn own(
    State(state): State<AppState>,
    Caller(token): Caller,
    Query(PageQuery(page)): Query<PageQuery>,
) -> Result<Response<Bytes>, Problem> {
    let place = place_of(&state, &page.place).await?;
    let most = u32::try_from(page.limit + 1).unwrap_or(u32::MAX);
    let mut documents = Vec::new();
    for (report, reason) in moderation::sent_by(&state.service, &token, place, most).await? {
        let report = ReportDocument::from(&report);
        let entity_tag = respond::entity_tag(&respond::json_bytes(&report)?, Tag::Strong);
        documents.push(SentDocument { report, reason, entity_tag });
    }
    let key = |document: &SentDocument| document.report.id.to_string();
    let (list, links) = page.list(documents, &state.url("/v1/reports"), key, SentDocument::clone);
    let mut response = respond::private_json(StatusCode::OK, &list, None)?;
    response.headers_mut().extend(links);
    Ok(response)
}

/// A report, for its sender and the keepers of its watershed.
#[utoipa::path(get, path = "/v1/reports/{id}", operation_id = "getReport", tag = "reports",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Report id")),
    responses((status = 200, description = "The report.", body = ReportDocument), TokenErrors))]
pub(crate) async fn get(
    State(state): State<AppState>,
    Caller(token): Caller,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Bytes>, Problem> {
    let report = report::find(&state.service, &token, path_uuid("report", &id)?).await?;
    respond::private_json(StatusCode::OK, &ReportDocument::from(&report), None)
}

/// Changes what a report says; what it said before is kept.
#[utoipa::path(patch, path = "/v1/reports/{id}", operation_id = "changeReport", tag = "reports",
    security(("token" = [])),
    params(("id" = uuid::Uuid, Path, description = "Report id"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    request_body = ReportPatch,
    responses((status = 200, description = "Changed.", body = ReportDocument), ChangeErrors))]
pub(crate) async fn change(
    State(state): State<AppState>,
    Caller(token): Caller,
    Path(id): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
    Json(patch): Json,
) -> Result<Response<Bytes>, Problem> {
    let id = path_uuid("report", &id)?;
    let report = report::edit(&state.service, &token, id, patch, matching(&headers)).await?;
    respond::private_json(StatusCode::OK, &ReportDocument::from(&report), None)
}

/// Withdraws a report; its id stays taken.
#[utoipa::path(delete, path = "/v1/reports/{id}", operation_id = "withdrawReport", tag = "reports",
    security(("token" = [])),
    params(("id" = uuid::Uuid, Path, description = "Report id"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    responses((status = 204, description = "Withdrawn."), ChangeErrors))]
pub(crate) async fn withdraw(
    State(state): State<AppState>,
    Caller(token): Caller,
    Path(id): Path<String>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let id = path_uuid("report", &id)?;
    report::withdraw(&state.service, &token, id, matching(&headers)).await?;
    Ok(no_content())
}
