//! Photos of reports.

use axum::body::Body;
use axum::extract::{Path, Request, State};
use axum::http::header::{ACCEPT, CONTENT_LENGTH};
use axum::http::{HeaderValue, Response, StatusCode};
use futures_util::TryStreamExt as _;
use tokio::sync::SemaphorePermit;

use super::tokens::no_content;
use crate::app::document::PhotoDocument;
use crate::app::photo::{self, MAX_BYTES};
use crate::http::docs::{TokenErrors, WriteErrors};
use crate::http::extract::{Caller, path_uuid, require_plain};
use crate::http::problem::{Kind, Problem};
use crate::http::query::{NoQuery, Query};
use crate::http::respond;
use crate::http::state::AppState;

/// What is read as a photo, whatever it is called.
pub(crate) const PICTURES: &str = "image/jpeg, image/png, image/webp";

/// The bytes of a picture, not looked at yet, and the room they take.
struct Picture {
    bytes: Vec<u8>,
    room: SemaphorePermit<'static>,
}

/// Takes in a picture.
async fn picture(request: Request) -> Result<Picture, Problem> {
    require_plain(request.headers())?;
    let too_large = || Problem::new(Kind::TooLarge, "A photo ends at 8 MiB.");
    let length = request.headers().get(CONTENT_LENGTH).and_then(|value| value.to_str().ok()?.parse::<usize>().ok());
    let most = length.unwrap_or(MAX_BYTES);
    if most > MAX_BYTES {
        return Err(too_large());
    }
    let room = photo::room(most)?;
    let (mut bytes, mut pieces) = (Vec::new(), request.into_body().into_data_stream());
    loop {
        let piece = pieces.try_next().await;
        let piece = piece.map_err(|_| Problem::new(Kind::BadRequest, "The body ended before it was complete."))?;
        let Some(piece) = piece else { return Ok(Picture { bytes, room }) };
        if bytes.len() + piece.len() > most {
            return Err(too_large());
        }
        bytes.extend_from_slice(&piece);
    }
}

/// Keeps a photo with a report, in the place of one that is there: for its sender. Only the pixels are kept, turned
/// upright and made small; place, time and device that the file tells of are not. Only keepers of the water see it, at
/// their desk, and it goes with the report.
#[utoipa::path(put, path = "/v1/reports/{id}/photo", operation_id = "putPhoto", tag = "reports",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Report id")),
    request_body(description = "A JPEG, PNG or WebP picture of at most 8 MiB and 20 million pixels, known by its content.",
        content((Vec<u8> = "image/jpeg"), (Vec<u8> = "image/png"), (Vec<u8> = "image/webp"))),
    responses((status = 200, description = "Kept.", body = PhotoDocument), WriteErrors))]
pub(crate) async fn put(
    State(state): State<AppState>,
    Caller(token): Caller,
    Path(id): Path<String>,
    _: Query<NoQuery>,
    request: Request,
) -> Result<Response<Body>, Problem> {
    let id = path_uuid("report", &id)?;
    // Nothing is taken in from whom nothing would be kept.
    photo::check_sender(&state.service, &token, id).await?;
    let Picture { bytes, room } = picture(request).await?;
    let kept = photo::put(&state.service, &token, id, bytes).await?;
    drop(room);
    respond::private_json(StatusCode::OK, &kept, None)
}

/// Forgets the photo of a report: for its sender and the keepers of its water.
#[utoipa::path(delete, path = "/v1/reports/{id}/photo", operation_id = "removePhoto", tag = "reports",
    security(("token" = [])), params(("id" = uuid::Uuid, Path, description = "Report id")),
    responses((status = 204, description = "There is none now."), TokenErrors))]
pub(crate) async fn remove(
    State(state): State<AppState>,
    Caller(token): Caller,
    Path(id): Path<String>,
    _: Query<NoQuery>,
) -> Result<Response<Body>, Problem> {
    photo::remove(&state.service, &token, path_uuid("report", &id)?).await?;
    Ok(no_content())
}

/// What the refusal of another kind of file carries.
pub(crate) fn accept_pictures(problem: Problem) -> Problem {
    problem.with_header(ACCEPT, HeaderValue::from_static(PICTURES))
}
