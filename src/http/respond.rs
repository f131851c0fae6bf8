//! Answers with entity tags and caching rules.

use axum::body::{Body, Bytes};
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, ETAG, IF_MATCH, IF_NONE_MATCH, LOCATION, VARY};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Response, StatusCode};
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::occurrence::Usual;
use super::problem::{Kind, Problem};
use crate::app::AppError;
use crate::app::digest::hex;
use crate::app::once::Answer;

/// Public forecasts and what changes with them.
pub(crate) const FORECAST_CACHE: &str = "public, max-age=300, stale-while-revalidate=3600, stale-if-error=86400";
/// Places, taxa and other public documents that a keeper changes.
pub(crate) const PLACE_CACHE: &str = "public, max-age=60, stale-if-error=86400";
/// Calendar feeds.
pub(crate) const FEED_CACHE: &str = "public, max-age=3600";
/// Anything read with a token.
pub(crate) const PRIVATE: &str = "private, no-store";
/// Files whose address changes with their content.
pub(crate) const ASSET_CACHE: &str = "public, max-age=31536000, immutable";

const REPLAYED: HeaderName = HeaderName::from_static("idempotent-replayed");

/// Whether equal tags promise equal bytes. Strong bodies are never compressed on the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tag {
    /// Byte for byte.
    Strong,
    /// Equal in meaning; may travel compressed.
    Weak,
}

/// Entity tag of `bytes`.
pub(crate) fn entity_tag(bytes: &[u8], tag: Tag) -> String {
    tag_of_digest(&Sha256::digest(bytes), tag)
}

/// Entity tag of what has this SHA-256 digest.
pub(crate) fn tag_of_digest(digest: &[u8], tag: Tag) -> String {
    let hex = hex(&digest[..12.min(digest.len())]);
    match tag {
        Tag::Strong => format!("\"{hex}\""),
        Tag::Weak => format!("W/\"{hex}\""),
    }
}

/// 200 with `bytes`, or 304 when the caller has them already.
pub(crate) fn cached(
    request: &HeaderMap,
    bytes: impl Into<Bytes>,
    content_type: &'static str,
    tag: Tag,
    cache: &'static str,
) -> Response<Body> {
    let bytes = bytes.into();
    let etag = entity_tag(&bytes, tag);
    cached_under(request, bytes, content_type, &etag, cache)
}

/// 200 with `bytes`, or 304 when the caller holds a body of the tag `etag` already.
pub(crate) fn cached_under(
    request: &HeaderMap,
    bytes: Bytes,
    content_type: &'static str,
    etag: &str,
    cache: &'static str,
) -> Response<Body> {
    let fresh = none_match(request, etag);
    let mut response = Response::new(if fresh { Body::empty() } else { Body::from(bytes) });
    if fresh {
        *response.status_mut() = StatusCode::NOT_MODIFIED;
        if etag.starts_with("W/") {
            // What the full answer would say once it is compressed.
            response.headers_mut().insert(VARY, HeaderValue::from_static("accept-encoding"));
        }
    }
    let headers = response.headers_mut();
    if !fresh {
        headers.insert(CONTENT_TYPE, HeaderValue::from_static(content_type));
    }
    headers.insert(CACHE_CONTROL, HeaderValue::from_static(cache));
    if let Ok(value) = HeaderValue::from_str(etag) {
        headers.insert(ETAG, value);
    }
    response
}

/// A JSON document under an entity tag.
pub(crate) fn cached_json(
    request: &HeaderMap,
    document: &impl Serialize,
    tag: Tag,
    cache: &'static str,
) -> Result<Response<Body>, Problem> {
    Ok(cached(request, json_bytes(document)?, "application/json", tag, cache))
}

/// A JSON document for one caller alone, with status and perhaps Location.
pub(crate) fn private_json(
    status: StatusCode,
    document: &impl Serialize,
    location: Option<&str>,
) -> Result<Response<Body>, Problem> {
    Ok(private_bytes(status, json_bytes(document)?, location))
}

/// The answer to a creating request; `public_url` stands before its Location.
pub(crate) fn answered(answer: Answer, public_url: &str) -> Response<Body> {
    let status = StatusCode::from_u16(answer.status).unwrap_or(StatusCode::OK);
    let location = answer.location.map(|path| format!("{public_url}{path}"));
    let mut response = private_bytes(status, answer.body.into_bytes(), location.as_deref());
    if answer.replayed {
        response.headers_mut().insert(REPLAYED, HeaderValue::from_static("true"));
    }
    response
}

fn private_bytes(status: StatusCode, bytes: Vec<u8>, location: Option<&str>) -> Response<Body> {
    let etag = entity_tag(&bytes, Tag::Strong);
    let mut response = Response::new(Body::from(bytes));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/json"));
    headers.insert(CACHE_CONTROL, HeaderValue::from_static(PRIVATE));
    if let Ok(value) = HeaderValue::from_str(&etag) {
        headers.insert(ETAG, value);
    }
    if let Some(value) = location.and_then(|text| HeaderValue::from_str(text).ok()) {
        headers.insert(LOCATION, value);
    }
    response
}

/// The bytes of a document.
pub(crate) fn json_bytes(document: &impl Serialize) -> Result<Vec<u8>, Problem> {
    serde_json::to_vec(document).map_err(|error| {
        tracing::error!(%error, "a document could not be serialised");
        Problem::new(Kind::Internal, Usual::Broken)
    })
}

/// True when If-None-Match holds `etag` by weak comparison (RFC 9110 section 8.8.3.2) or `*`.
fn none_match(request: &HeaderMap, etag: &str) -> bool {
    let opaque = etag.trim_start_matches("W/");
    request
        .get_all(IF_NONE_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(','))
        .map(str::trim)
        .any(|candidate| candidate == "*" || candidate.trim_start_matches("W/") == opaque)
}

/// Holds If-Match against the tag of what is stored, by strong comparison (RFC 9110 section
/// 8.8.3.2).
///
/// # Errors
/// [`AppError::PreconditionRequired`] without If-Match, [`AppError::PreconditionFailed`] when it
/// names another version.
pub(crate) fn require_match(request: &HeaderMap, etag: &str) -> Result<(), AppError> {
    if !request.contains_key(IF_MATCH) {
        return Err(AppError::PreconditionRequired);
    }
    let hit = request
        .get_all(IF_MATCH)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(','))
        .map(str::trim)
        .any(|candidate| candidate == "*" || candidate == etag);
    if hit { Ok(()) } else { Err(AppError::PreconditionFailed) }
}
