//! Keepers' notices.

use axum::body::Body as Bytes;
use axum::extract::{Path, State};
use axum::http::header::VARY;
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode};

use super::tokens::no_content;
use super::{KeyParams, PageParams, PageQuery, matching};
use crate::app::document::input::NoticePatch;
use crate::app::document::{List, NoticeDocument, NoticeInput};
use crate::app::notice;
use crate::domain::Notice;
use crate::http::docs::{ChangeErrors, TokenErrors, WriteErrors};
use crate::http::extract::{Json, MaybeCaller, Posted, Water, WatershedKeeper, path_uuid};
use crate::http::problem::Problem;
use crate::http::query::{NoQuery, Query};
use crate::http::respond::{self, PLACE_CACHE, Tag};
use crate::http::state::AppState;

/// The notices of a watershed that hold or are still to come. With a token of the watershed also those for members.
#[utoipa::path(get, path = "/v1/watersheds/{w}/notices", operation_id = "listNotices", tag = "notices",
    security((), ("token" = [])), params(("w" = String, Path, description = "Watershed slug"), PageParams),
    responses((status = 200, description = "A page of notices.", body = List<NoticeDocument>), TokenErrors))]
pub(crate) async fn list(
    State(state): State<AppState>,
    MaybeCaller(caller): MaybeCaller,
    Water(view): Water,
    Query(PageQuery(page)): Query<PageQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let slug = &view.watershed.slug;
    let key = |notice: &Notice| format!("{}{}", notice.from, notice.id);
    let mut all = notice::current(&state.service, &view, notice::audience_of(caller.as_ref(), slug));
    all.sort_by_key(key);
    let address = state.url(&format!("/v1/watersheds/{slug}/notices"));
    let (list, links) = page.list(page.slice(&all, key), &address, key, |notice| NoticeDocument::from(notice));
    let mut response = match caller {
        Some(_) => respond::private_json(StatusCode::OK, &list, None)?,
        None => varying(respond::cached_json(&headers, &list, Tag::Strong, PLACE_CACHE)?),
    };
    response.headers_mut().extend(links);
    Ok(response)
}

/// One notice.
#[utoipa::path(get, path = "/v1/watersheds/{w}/notices/{id}", operation_id = "getNotice", tag = "notices",
    security((), ("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"),
        ("id" = uuid::Uuid, Path, description = "Notice id")),
    responses((status = 200, description = "The notice.", body = NoticeDocument), TokenErrors))]
pub(crate) async fn get(
    MaybeCaller(caller): MaybeCaller,
    Water(view): Water,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let audience = notice::audience_of(caller.as_ref(), &view.watershed.slug);
    let document = NoticeDocument::from(&notice::find(&view, path_uuid("notice", &path.1)?, audience)?);
    match caller {
        Some(_) => respond::private_json(StatusCode::OK, &document, None),
        None => respond::cached_json(&headers, &document, Tag::Strong, PLACE_CACHE).map(varying),
    }
}

/// A cache must not give one caller's answer to another.
fn varying(mut response: Response<Bytes>) -> Response<Bytes> {
    response.headers_mut().append(VARY, HeaderValue::from_static("authorization"));
    response
}

/// Makes a notice: shown on the pages of the water and its reaches, in the embed and in feeds, on its days.
#[utoipa::path(post, path = "/v1/watersheds/{w}/notices", operation_id = "createNotice", tag = "notices",
    security(("token" = [])), params(("w" = String, Path, description = "Watershed slug"), KeyParams),
    request_body = NoticeInput,
    responses((status = 201, description = "Made.", body = NoticeDocument,
        headers(("Location" = String, description = "Its address"))), WriteErrors))]
pub(crate) async fn create(
    State(state): State<AppState>,
    WatershedKeeper { view, token }: WatershedKeeper,
    _: Query<NoQuery>,
    posted: Posted,
) -> Result<Response<Bytes>, Problem> {
    let (wish, once) = posted.read::<NoticeInput>(token.id)?;
    let answer = notice::create(&state.service, &view.watershed.slug, &wish, &once).await?;
    Ok(respond::answered(answer, &state.settings.public_url))
}

/// Changes a notice.
#[utoipa::path(patch, path = "/v1/watersheds/{w}/notices/{id}", operation_id = "changeNotice", tag = "notices",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"), ("id" = uuid::Uuid, Path, description = "Notice id"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    request_body = NoticePatch,
    responses((status = 200, description = "Changed.", body = NoticeDocument), ChangeErrors))]
pub(crate) async fn change(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
    headers: HeaderMap,
    Json(patch): Json,
) -> Result<Response<Bytes>, Problem> {
    let id = path_uuid("notice", &path.1)?;
    let changed = notice::change(&state.service, &view.watershed.slug, id, patch, matching(&headers)).await?;
    respond::private_json(StatusCode::OK, &NoticeDocument::from(&changed), None)
}

/// Withdraws a notice: it leaves pages at once, and calendars show it as cancelled for a month.
#[utoipa::path(delete, path = "/v1/watersheds/{w}/notices/{id}", operation_id = "withdrawNotice", tag = "notices",
    security(("token" = [])),
    params(("w" = String, Path, description = "Watershed slug"), ("id" = uuid::Uuid, Path, description = "Notice id"),
        ("If-Match" = String, Header, description = "ETag of the version read")),
    responses((status = 204, description = "Withdrawn."), ChangeErrors))]
pub(crate) async fn withdraw(
    State(state): State<AppState>,
    WatershedKeeper { view, .. }: WatershedKeeper,
    Path(path): Path<(String, String)>,
    _: Query<NoQuery>,
    headers: HeaderMap,
) -> Result<Response<Bytes>, Problem> {
    let id = path_uuid("notice", &path.1)?;
    notice::withdraw(&state.service, &view.watershed.slug, id, matching(&headers)).await?;
    Ok(no_content())
}
