//! Every error as `application/problem+json` (RFC 9457): the one table from error to status, type
//! and title.

use std::sync::Arc;

use axum::body::Body;
use axum::http::header::{ALLOW, CONTENT_LENGTH, CONTENT_TYPE, HeaderName, RETRY_AFTER, WWW_AUTHENTICATE};
use axum::http::{HeaderValue, Response, StatusCode};
use axum::response::IntoResponse;
use serde::Serialize;
use utoipa::ToSchema;

use super::api::photos::accept_pictures;
use super::occurrence::{Occurrence, Usual};
use super::pages::{self, units::Shown};
use crate::app::AppError;
use crate::app::document::{Fault, Faults};
use crate::domain::error::chain;

/// Media type of every error.
pub(crate) const PROBLEM_JSON: &str = "application/problem+json";

macro_rules! kinds {
    ($($(#[$doc:meta])* $name:ident = $slug:literal, $status:expr, $title:literal, $help:literal;)*) => {
        /// The kinds of problem. Each has a page under `/problems/`.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum Kind { $($(#[$doc])* $name,)* }

        impl Kind {
            /// All kinds in the order of their status.
            pub(crate) const ALL: &[Self] = &[$(Self::$name,)*];

            /// Last part of the type's address.
            pub(crate) fn slug(self) -> &'static str { match self { $(Self::$name => $slug,)* } }

            /// HTTP status.
            pub(crate) fn status(self) -> StatusCode { match self { $(Self::$name => $status,)* } }

            /// Title, constant per type.
            pub(crate) fn title(self) -> &'static str { match self { $(Self::$name => $title,)* } }

            /// What to do about it.
            pub(crate) fn help(self) -> &'static str { match self { $(Self::$name => $help,)* } }
        }
    };
}

kinds! {
    MalformedBody = "malformed-body", StatusCode::BAD_REQUEST, "The body is not JSON",
        "Send one JSON object in UTF-8.";
    BadQuery = "bad-query", StatusCode::BAD_REQUEST, "A query parameter is wrong",
        "See `errors`: a parameter is unknown, stands twice, or has a value outside its range.";
    BadRequest = "bad-request", StatusCode::BAD_REQUEST, "The request cannot be understood",
        "Check the address and the headers.";
    KeyNeeded = "idempotency-key-needed", StatusCode::BAD_REQUEST, "Idempotency-Key is missing or malformed",
        "Send an Idempotency-Key of 16 to 255 printable ASCII characters, new for every new thing.";
    Unauthenticated = "unauthenticated", StatusCode::UNAUTHORIZED, "A valid token is needed",
        "Send `Authorization: Bearer subimago_...` with a token that has not expired or been revoked.";
    Forbidden = "forbidden", StatusCode::FORBIDDEN, "The token does not allow this",
        "Ask a keeper of the watershed.";
    NotFound = "not-found", StatusCode::NOT_FOUND, "Nothing here",
        "The address is wrong, or what it names does not exist or is not yours to see.";
    MethodNotAllowed = "method-not-allowed", StatusCode::METHOD_NOT_ALLOWED, "This method is not offered here",
        "Use one of the methods named in Allow.";
    NotAcceptable = "not-acceptable", StatusCode::NOT_ACCEPTABLE, "Not given in any form asked for",
        "Name a media type in Accept that this address gives, or leave Accept out.";
    Conflict = "conflict", StatusCode::CONFLICT, "This contradicts what is stored",
        "Read what is stored and decide anew.";
    PreconditionFailed = "precondition-failed", StatusCode::PRECONDITION_FAILED, "It changed since you read it",
        "Read it again, repeat your change on the new version and send its ETag in If-Match.";
    TooLarge = "too-large", StatusCode::PAYLOAD_TOO_LARGE, "The body is too large",
        "JSON bodies end at 1 MiB, tables at 50 MiB.";
    UnsupportedMediaType = "unsupported-media-type", StatusCode::UNSUPPORTED_MEDIA_TYPE,
        "This media type is not read here", "Use one of the media types named in Accept.";
    InvalidDocument = "invalid-document", StatusCode::UNPROCESSABLE_ENTITY, "The document breaks rules",
        "See `errors`: each names its place by JSON Pointer.";
    KeyReused = "idempotency-key-reused", StatusCode::UNPROCESSABLE_ENTITY,
        "The Idempotency-Key was used with another body", "Make a new key for a new thing.";
    PreconditionRequired = "precondition-required", StatusCode::PRECONDITION_REQUIRED, "If-Match is needed",
        "Read the resource and send its ETag in If-Match, so that no one's change is lost.";
    TooMany = "too-many-requests", StatusCode::TOO_MANY_REQUESTS, "Too many requests",
        "Wait as long as Retry-After says.";
    Internal = "internal", StatusCode::INTERNAL_SERVER_ERROR, "The service failed",
        "Tell the operator the request id.";
    Unavailable = "unavailable", StatusCode::SERVICE_UNAVAILABLE, "Not available now",
        "Try again after Retry-After; what you sent was not stored.";
}

/// A problem on its way out. The body is written by [`finish`], which knows the address and the
/// request id.
#[derive(Debug, Clone)]
pub(crate) struct Problem {
    /// Kind.
    kind: Kind,
    /// What happened.
    occurrence: Occurrence,
    /// Faults of a document or query.
    errors: Vec<Fault>,
    /// Headers the status asks for.
    headers: Vec<(HeaderName, HeaderValue)>,
}

impl Problem {
    /// A problem of `kind`.
    pub(crate) fn new(kind: Kind, occurrence: impl Into<Occurrence>) -> Self {
        let headers = match kind {
            Kind::Unauthenticated => vec![(WWW_AUTHENTICATE, HeaderValue::from_static("Bearer realm=\"subimago\""))],
            Kind::Unavailable => vec![(RETRY_AFTER, HeaderValue::from_static("5"))],
            Kind::TooMany => vec![(RETRY_AFTER, HeaderValue::from_static("60"))],
            _ => Vec::new(),
        };
        Self { kind, occurrence: occurrence.into(), errors: Vec::new(), headers }
    }

    /// Nothing of that sort.
    pub(crate) fn not_found(what: &'static str) -> Self {
        Self::new(Kind::NotFound, Occurrence::NoSuch(what))
    }

    /// Kind.
    pub(crate) fn kind(&self) -> Kind {
        self.kind
    }

    /// What happened.
    pub(crate) fn occurrence(&self) -> &Occurrence {
        &self.occurrence
    }

    /// The faults of a document or query.
    pub(crate) fn faults(&self) -> &[Fault] {
        &self.errors
    }

    /// The same with a header, replacing one of that name.
    pub(crate) fn with_header(mut self, name: HeaderName, value: HeaderValue) -> Self {
        self.headers.retain(|(known, _)| *known != name);
        self.headers.push((name, value));
        self
    }

    /// A problem of `kind` with faults.
    pub(crate) fn with_faults(kind: Kind, faults: Faults) -> Self {
        let occurrence = Occurrence::Faults(faults.len());
        Self { errors: faults.into_vec(), ..Self::new(kind, occurrence) }
    }

    /// Its faults.
    pub(crate) fn into_faults(self) -> Vec<Fault> {
        self.errors
    }

    /// The problem that a bare error status of an inner layer stands for.
    fn of_status(status: StatusCode) -> Self {
        match status {
            StatusCode::NOT_FOUND => Self::new(Kind::NotFound, Usual::NothingServed),
            StatusCode::METHOD_NOT_ALLOWED => Self::new(Kind::MethodNotAllowed, Usual::OtherMethod),
            StatusCode::PAYLOAD_TOO_LARGE => Self::new(Kind::TooLarge, Usual::BodyTooLarge),
            StatusCode::UNSUPPORTED_MEDIA_TYPE => Self::new(Kind::UnsupportedMediaType, Usual::OtherMedia),
            StatusCode::SERVICE_UNAVAILABLE | StatusCode::REQUEST_TIMEOUT | StatusCode::GATEWAY_TIMEOUT => {
                Self::new(Kind::Unavailable, Usual::TooSlow)
            }
            status if status.is_client_error() => Self::new(Kind::BadRequest, Usual::NotUnderstood),
            _ => Self::new(Kind::Internal, Usual::Broken),
        }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response<Body> {
        let mut response = self.kind.status().into_response();
        response.extensions_mut().insert(Arc::new(self));
        response
    }
}

impl From<AppError> for Problem {
    fn from(error: AppError) -> Self {
        let words = error.to_string();
        let later = |problem: Self, seconds: u64| problem.with_header(RETRY_AFTER, HeaderValue::from(seconds));
        match error {
            AppError::NotFound { what } => Self::not_found(what),
            AppError::Faults(faults) => Self::with_faults(Kind::InvalidDocument, faults),
            AppError::Query(faults) => Self::with_faults(Kind::BadQuery, faults),
            AppError::Unauthenticated => {
                Self::new(Kind::Unauthenticated, "The token is missing, unknown, expired or revoked.")
            }
            AppError::Forbidden { detail } => Self::new(Kind::Forbidden, detail),
            AppError::Conflict { detail } => Self::new(Kind::Conflict, detail),
            AppError::UnknownPicture | AppError::HeifPicture => {
                accept_pictures(Self::new(Kind::UnsupportedMediaType, words))
            }
            AppError::KeyReused => Self::new(Kind::KeyReused, words),
            AppError::Twin { retry_after_s } => later(Self::new(Kind::Conflict, words), retry_after_s),
            AppError::PreconditionFailed => Self::new(Kind::PreconditionFailed, words),
            AppError::PreconditionRequired => Self::new(Kind::PreconditionRequired, words),
            AppError::TooMany { detail, retry_after_s } => later(Self::new(Kind::TooMany, detail), retry_after_s),
            AppError::Unavailable { detail, retry_after_s } => {
                later(Self::new(Kind::Unavailable, detail), retry_after_s)
            }
            ref failed @ (AppError::Store(_) | AppError::Internal(_)) => {
                if let Some(trouble) = failed.passing_trouble() {
                    tracing::warn!(error = %chain(failed), "request refused for now");
                    return Self::new(Kind::Unavailable, trouble);
                }
                tracing::error!(error = %chain(failed), "request failed");
                Self::new(Kind::Internal, Usual::Broken)
            }
        }
    }
}

/// The body of a problem.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub(crate) struct ProblemDocument {
    /// Address of a page about this kind of problem.
    #[schema(example = "http://127.0.0.1:8080/problems/not-found")]
    r#type: String,
    /// Short name of the kind.
    #[schema(example = "Nothing here")]
    title: &'static str,
    /// The HTTP status.
    #[schema(example = 404)]
    status: u16,
    /// This occurrence in words.
    detail: String,
    /// The address asked for.
    instance: String,
    /// Finds the request in the log; also in X-Request-Id.
    request_id: String,
    /// Faults of a document or query, all at once.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    #[schema(required = false)]
    errors: Vec<Fault>,
}

/// Marks an answer that carries a page of its own, whatever its status: a form with what is wrong beside its fields.
#[derive(Debug, Clone, Copy)]
pub(crate) struct OwnPage;

/// What the body of a problem needs to know of the request.
#[derive(Debug)]
pub(crate) struct Asked<'a> {
    /// Address of the service, without a slash at the end.
    pub(crate) public_url: &'a str,
    /// Path asked for.
    pub(crate) path: &'a str,
    /// Finds the request in the log.
    pub(crate) request_id: &'a str,
    /// How to show a page, for whom it serves better than a document.
    pub(crate) page: Option<Shown>,
}

/// Gives an error response its body: that of the [`Problem`] inside it, or of its bare status.
pub(crate) fn finish(response: Response<Body>, asked: &Asked<'_>) -> Response<Body> {
    let status = response.status();
    let error = status.is_client_error() || status.is_server_error();
    if !error || response.extensions().get::<OwnPage>().is_some() {
        return response;
    }
    let problem =
        response.extensions().get::<Arc<Problem>>().cloned().unwrap_or_else(|| Arc::new(Problem::of_status(status)));
    let mut finished = if let Some(shown) = &asked.page {
        let page = pages::problems::refused(shown, &problem, asked.request_id).into_string();
        let mut response = Response::new(Body::from(shown.finish(&page)));
        response.headers_mut().insert(CONTENT_TYPE, HeaderValue::from_static(pages::HTML));
        pages::handlers::by_language(shown, response)
    } else {
        // The document holds text and numbers only; serialising it cannot fail.
        let bytes = serde_json::to_vec(&document(&problem, asked)).unwrap_or_default();
        let mut response = Response::new(Body::from(bytes));
        response.headers_mut().insert(CONTENT_TYPE, HeaderValue::from_static(PROBLEM_JSON));
        response
    };
    let allow = response.headers().get(ALLOW).cloned();
    *finished.status_mut() = problem.kind.status();
    let headers = finished.headers_mut();
    headers.insert(axum::http::header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    headers.remove(CONTENT_LENGTH);
    if let Some(allow) = allow {
        headers.insert(ALLOW, allow);
    }
    if problem.kind == Kind::UnsupportedMediaType {
        headers.insert(axum::http::header::ACCEPT, HeaderValue::from_static("application/json"));
    }
    for (name, value) in &problem.headers {
        headers.insert(name, value.clone());
    }
    if problem.kind == Kind::Unavailable && !headers.contains_key(RETRY_AFTER) {
        headers.insert(RETRY_AFTER, HeaderValue::from_static("5"));
    }
    finished
}

/// The problem as programs read it: in English, whoever asks.
fn document(problem: &Problem, asked: &Asked<'_>) -> ProblemDocument {
    ProblemDocument {
        r#type: format!("{}/problems/{}", asked.public_url, problem.kind.slug()),
        title: problem.kind.title(),
        status: problem.kind.status().as_u16(),
        detail: problem.occurrence.in_english(),
        instance: asked.path.to_owned(),
        request_id: asked.request_id.to_owned(),
        errors: problem.errors.clone(),
    }
}
