//! What every answer carries: request id, problem body, cross-origin rules, security headers.

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::{
    ACCESS_CONTROL_ALLOW_HEADERS, ACCESS_CONTROL_ALLOW_METHODS, ACCESS_CONTROL_ALLOW_ORIGIN,
    ACCESS_CONTROL_EXPOSE_HEADERS, ACCESS_CONTROL_MAX_AGE, ACCESS_CONTROL_REQUEST_METHOD, HeaderName, ORIGIN, VARY,
};
use axum::http::{HeaderMap, HeaderValue, Method, Response, StatusCode};
use axum::middleware::Next;
use tracing::Instrument;
use uuid::Uuid;

use super::limits::Slip;
use super::negotiate;
use super::pages::units::Shown;
use super::policy;
use super::problem::{self, Asked};
use super::state::{AppState, Settings};

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
const EXPOSED: &str =
    "ETag, Link, Location, Retry-After, RateLimit, RateLimit-Policy, X-Request-Id, Idempotent-Replayed";
const ALLOWED: &str = "Authorization, Content-Type, Idempotency-Key, If-Match, If-None-Match";
const METHODS: &str = "GET, HEAD, POST, PUT, PATCH, DELETE";

/// Wraps every request and answer.
pub(crate) async fn envelope(State(state): State<AppState>, mut request: Request, next: Next) -> Response<Body> {
    let id = request_id(request.headers());
    let path = request.uri().path().to_owned();
    let method = request.method().clone();
    let origin = request.headers().get(ORIGIN).cloned();
    let span = tracing::info_span!("request", %id, %method, path = %told(&path));
    let preflight = method == Method::OPTIONS && request.headers().contains_key(ACCESS_CONTROL_REQUEST_METHOD);
    let asked = request.headers().get(ACCESS_CONTROL_REQUEST_METHOD).and_then(|value| value.to_str().ok());
    let writes = !matches!(asked.unwrap_or(method.as_str()), "GET" | "HEAD");
    let slip = Slip::default();
    request.extensions_mut().insert(slip.clone());
    let mut response = if preflight {
        let mut answer = Response::new(Body::empty());
        *answer.status_mut() = StatusCode::NO_CONTENT;
        answer
    } else {
        let page = is_page(&path) && negotiate::prefers_page(request.headers());
        let page = page.then(|| Shown::of_refused(request.uri(), request.headers()));
        let answer = next.run(request).instrument(span.clone()).await;
        let asked = Asked { public_url: &state.settings.public_url, path: &path, request_id: &id, page };
        problem::finish(answer, &asked)
    };
    span.in_scope(|| tracing::debug!(status = response.status().as_u16(), "answered"));
    let headers = response.headers_mut();
    if let Ok(value) = HeaderValue::from_str(&id) {
        headers.insert(REQUEST_ID, value);
    }
    if let Some(standing) = slip.read() {
        standing.tell(headers);
    }
    cross_origin(headers, &state.settings, origin.as_ref(), writes, preflight);
    policy::secure(headers, &state.settings, &path);
    response
}

/// `path` as logs may tell it: without the key of a secret address, wherever it stands.
fn told(path: &str) -> String {
    let is_key = |part: &&str| part.get(..5).is_some_and(|head| head.eq_ignore_ascii_case("feed_"));
    let parts: Vec<&str> = path.split('/').map(|part| if is_key(&part) { "***" } else { part }).collect();
    parts.join("/")
}

/// Whether people rather than programs ask for `path`. Documents and feeds keep one form of error
/// whoever asks.
fn is_page(path: &str) -> bool {
    let under = |head: &str| path == head || path.strip_prefix(head).is_some_and(|rest| rest.starts_with('/'));
    !["/v1", "/ogc", "/calendars", "/feeds", "/openapi.json", "/healthz", "/readyz"].into_iter().any(under)
}

/// The caller's id when it is harmless, else a new one.
fn request_id(headers: &HeaderMap) -> String {
    headers
        .get(REQUEST_ID)
        .and_then(|value| value.to_str().ok())
        .filter(|text| {
            (1..=64).contains(&text.len())
                && text.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.'))
        })
        .map_or_else(|| Uuid::new_v4().to_string(), str::to_owned)
}

/// Reading is open to every origin without credentials; writing to the listed origins.
fn cross_origin(
    headers: &mut HeaderMap,
    settings: &Settings,
    origin: Option<&HeaderValue>,
    writes: bool,
    preflight: bool,
) {
    if writes {
        headers.append(VARY, HeaderValue::from_static("Origin"));
        let listed = origin
            .filter(|value| value.to_str().is_ok_and(|text| settings.write_origins.iter().any(|known| known == text)));
        let Some(origin) = listed else { return };
        headers.insert(ACCESS_CONTROL_ALLOW_ORIGIN, origin.clone());
    } else {
        headers.insert(ACCESS_CONTROL_ALLOW_ORIGIN, HeaderValue::from_static("*"));
    }
    headers.insert(ACCESS_CONTROL_EXPOSE_HEADERS, HeaderValue::from_static(EXPOSED));
    if preflight {
        headers.insert(ACCESS_CONTROL_ALLOW_METHODS, HeaderValue::from_static(METHODS));
        headers.insert(ACCESS_CONTROL_ALLOW_HEADERS, HeaderValue::from_static(ALLOWED));
        headers.insert(ACCESS_CONTROL_MAX_AGE, HeaderValue::from_static("7200"));
    }
}

#[cfg(test)]
mod tests {
    use super::told;

    #[test]
    fn no_key_is_told() {
        assert_eq!(told("/calendars/feed_0aZ/ostrey.ics"), "/calendars/***/ostrey.ics");
        assert_eq!(told("//Feeds//FEED_0aZ"), "//Feeds//***");
        assert_eq!(told("/v1/watersheds/ostrey/feeds"), "/v1/watersheds/ostrey/feeds");
    }
}
