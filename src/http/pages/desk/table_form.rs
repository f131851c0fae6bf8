//! A form with a file in it (RFC 7578), taken in piece by piece. Its fields stand before the file, the mark of the
//! session first: nothing is kept of a file that another site sends.

use axum::body::Body;
use axum::extract::{FromRequest, FromRequestParts as _, Request};
use axum::http::Response;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse as _;

use super::form::Form;
use super::session::{AtWater, check_mark, from_here, may_write};
use crate::http::extract::require_plain;
use crate::http::problem::{Kind, Problem};
use crate::http::state::AppState;
use crate::http::upload::Incoming;

/// Most bytes of a field that is no file, and most fields.
const FIELD_BYTES: usize = 64 * 1024;
const MOST_FIELDS: usize = 40;

/// A form that a keeper sent from the desk, with a file.
#[derive(Debug)]
pub(crate) struct SentTable {
    /// The keeper, and where.
    pub(super) at: AtWater,
    /// The fields that are no file.
    pub(super) form: Form,
    /// Name, content at its beginning, and digest of the file; `None` when none was chosen.
    pub(super) file: Option<(String, std::fs::File, String)>,
}

impl FromRequest<AppState> for SentTable {
    type Rejection = Response<Body>;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, Response<Body>> {
        let (mut parts, body) = request.into_parts();
        let refuse = |problem: Problem| problem.into_response();
        from_here(&parts.headers, &state.settings).map_err(refuse)?;
        require_plain(&parts.headers).map_err(refuse)?;
        let at = AtWater::from_request_parts(&mut parts, state).await?;
        may_write(&at.signed, state).map_err(refuse)?;
        let kind = parts.headers.get(CONTENT_TYPE).and_then(|value| value.to_str().ok()).unwrap_or_default();
        let boundary = multer::parse_boundary(kind).map_err(|_| {
            refuse(Problem::new(Kind::UnsupportedMediaType, "This form is sent as multipart/form-data."))
        })?;
        read(multer::Multipart::new(body.into_data_stream(), boundary), at).await.map_err(refuse)
    }
}

async fn read(mut sent: multer::Multipart<'_>, at: AtWater) -> Result<SentTable, Problem> {
    let cut = |_| Problem::new(Kind::MalformedBody, "The form ended before it was complete, or has no right form.");
    let mut pairs: Vec<(String, String)> = Vec::new();
    let mut file = None;
    while let Some(mut field) = sent.next_field().await.map_err(cut)? {
        let name = field.name().unwrap_or_default().to_owned();
        let Some(called) = field.file_name().map(str::to_owned) else {
            let mut bytes = Vec::new();
            while let Some(piece) = field.chunk().await.map_err(cut)? {
                bytes.extend_from_slice(&piece);
                if bytes.len() > FIELD_BYTES {
                    return Err(Problem::new(Kind::TooLarge, "A field of the form is too large."));
                }
            }
            if pairs.len() >= MOST_FIELDS {
                return Err(Problem::new(Kind::TooLarge, "The form has too many fields."));
            }
            let text =
                String::from_utf8(bytes).map_err(|_| Problem::new(Kind::MalformedBody, "The form is not UTF-8."))?;
            pairs.push((name, text));
            continue;
        };
        check_mark(&at.signed, &Form::of(pairs.clone()))?;
        if file.is_some() {
            return Err(Problem::new(Kind::MalformedBody, "The form takes one file."));
        }
        let mut incoming = Incoming::new()?;
        while let Some(piece) = field.chunk().await.map_err(cut)? {
            incoming.take(&piece).await?;
        }
        let (content, digest) = incoming.end().await?;
        // A field for a file that was left empty is sent without a name.
        if !called.is_empty() {
            file = Some((called, content, digest));
        }
    }
    let form = Form::of(pairs);
    check_mark(&at.signed, &form)?;
    Ok(SentTable { at, form, file })
}
