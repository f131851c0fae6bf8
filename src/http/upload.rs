//! A file that is sent as it is, taken in piece by piece: it never stands in memory as a whole.

use axum::extract::{FromRequest, Request};
use axum::http::HeaderValue;
use axum::http::header::{ACCEPT, CONTENT_LENGTH};
use futures_util::TryStreamExt as _;
use sha2::{Digest as _, Sha256};
use tokio::io::{AsyncSeekExt as _, AsyncWriteExt as _};
use uuid::Uuid;

use super::extract::{idempotency_key, media_type, require_plain};
use super::problem::{Kind, Problem};
use super::state::AppState;
use crate::app::digest::hex;
use crate::app::once::Once;

/// Largest file, bytes: what an import takes.
const MAX_BYTES: u64 = crate::app::import_job::MAX_BYTES;

/// A table that was sent, and the Idempotency-Key it may come under.
#[derive(Debug)]
pub(crate) struct Upload {
    /// The file, at its beginning; nobody else sees it.
    pub(crate) file: std::fs::File,
    digest: String,
    key: Option<String>,
    route: String,
    query: String,
}

impl Upload {
    /// How to do what is asked for once for the token `token_id`.
    pub(crate) fn once(&self, token_id: Uuid) -> Once {
        let fingerprint = format!("{} {}", self.digest, hex(&Sha256::digest(&self.query)));
        Once { token_id, route: self.route.clone(), key: self.key.clone(), fingerprint }
    }
}

/// A file on its way in, counted and digested; nobody else sees it.
#[derive(Debug)]
pub(crate) struct Incoming {
    file: tokio::fs::File,
    bytes: u64,
    digest: Sha256,
}

impl Incoming {
    /// An empty file.
    pub(crate) fn new() -> Result<Self, Problem> {
        let file = tokio::fs::File::from_std(tempfile::tempfile().map_err(|error| unkept(&error))?);
        Ok(Self { file, bytes: 0, digest: Sha256::new() })
    }

    /// Takes the next piece.
    pub(crate) async fn take(&mut self, piece: &[u8]) -> Result<(), Problem> {
        self.bytes += piece.len() as u64;
        if self.bytes > MAX_BYTES {
            return Err(too_large());
        }
        self.digest.update(piece);
        self.file.write_all(piece).await.map_err(|error| unkept(&error))
    }

    /// The file at its beginning, and its digest.
    pub(crate) async fn end(mut self) -> Result<(std::fs::File, String), Problem> {
        self.file.flush().await.map_err(|error| unkept(&error))?;
        self.file.rewind().await.map_err(|error| unkept(&error))?;
        Ok((self.file.into_std().await, hex(&self.digest.finalize())))
    }
}

fn too_large() -> Problem {
    Problem::new(Kind::TooLarge, "A table ends at 50 MiB; split it by year or gauge.")
}

fn unkept(error: &std::io::Error) -> Problem {
    tracing::error!(%error, "a file that was sent cannot be kept");
    Problem::new(Kind::Unavailable, "The file cannot be kept now.")
}

impl FromRequest<AppState> for Upload {
    type Rejection = Problem;

    async fn from_request(request: Request, _: &AppState) -> Result<Self, Problem> {
        let headers = request.headers();
        let as_csv = |problem: Problem| problem.with_header(ACCEPT, HeaderValue::from_static("text/csv"));
        require_plain(headers).map_err(as_csv)?;
        if media_type(headers).as_deref() != Some("text/csv") {
            return Err(as_csv(Problem::new(Kind::UnsupportedMediaType, "Send Content-Type: text/csv.")));
        }
        let key = idempotency_key(headers)?;
        let route = format!("{} {}", request.method(), request.uri().path());
        let query = request.uri().query().unwrap_or_default().to_owned();
        let length = headers.get(CONTENT_LENGTH).and_then(|value| value.to_str().ok()?.parse::<u64>().ok());
        if length.is_some_and(|length| length > MAX_BYTES) {
            return Err(too_large());
        }
        let mut incoming = Incoming::new()?;
        let mut pieces = request.into_body().into_data_stream();
        loop {
            let piece = pieces.try_next().await;
            let piece = piece.map_err(|_| Problem::new(Kind::BadRequest, "The body ended before it was complete."))?;
            let Some(piece) = piece else { break };
            incoming.take(&piece).await?;
        }
        let (file, digest) = incoming.end().await?;
        Ok(Self { file, digest, key, route, query })
    }
}
