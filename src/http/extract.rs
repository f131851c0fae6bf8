//! Extractors of our own, whose refusals are problems: bodies, tokens, places in the path.

use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;

use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, RawPathParams, Request};
use axum::http::header::{AUTHORIZATION, CONTENT_TYPE};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue};
use serde_json::Value;
use uuid::Uuid;

use super::problem::{Kind, Problem};
use super::state::AppState;
use crate::app::{AppError, WatershedView};
use crate::domain::Slug;
use crate::domain::token::{Role, Token};

/// A JSON body as it is.
#[derive(Debug)]
pub(crate) struct Json(pub(crate) Value);

impl FromRequest<AppState> for Json {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, Problem> {
        require_json(request.headers())?;
        let bytes = Bytes::from_request(request, state).await.map_err(|rejection| {
            if rejection.status() == axum::http::StatusCode::PAYLOAD_TOO_LARGE {
                Problem::new(Kind::TooLarge, "JSON bodies end at 1 MiB.")
            } else {
                Problem::new(Kind::BadRequest, "The body ended before it was complete.")
            }
        })?;
        serde_json::from_slice(&bytes).map(Self).map_err(|error| {
            let place = format!("line {}, column {}", error.line(), error.column());
            Problem::new(Kind::MalformedBody, format!("Reading stopped at {place}."))
        })
    }
}

fn require_json(headers: &HeaderMap) -> Result<(), Problem> {
    let essence = headers
        .get(CONTENT_TYPE)
        .and_then(|value| value.to_str().ok())
        .map(|text| text.split(';').next().unwrap_or_default().trim().to_ascii_lowercase());
    match essence.as_deref() {
        Some("application/json" | "application/merge-patch+json") => Ok(()),
        _ => Err(Problem::new(Kind::UnsupportedMediaType, "Send Content-Type: application/json.")),
    }
}

/// A caller with a valid token.
#[derive(Debug, Clone)]
pub(crate) struct Caller(pub(crate) Token);

impl FromRequestParts<AppState> for Caller {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let address = client_address(parts, state);
        let now = state.service.now();
        if let Some(wait) = state.failures.blocked_for_s(address, now) {
            return Err(
                AppError::TooMany { detail: "Too many wrong tokens from this address.", retry_after_s: wait }.into()
            );
        }
        let Some(secret) = bearer(&parts.headers) else { return Err(AppError::Unauthenticated.into()) };
        match crate::app::access::authenticate(&state.service, secret).await {
            Ok(token) => Ok(Self(token)),
            Err(error) => {
                if matches!(error, AppError::Unauthenticated) {
                    state.failures.count(address, now);
                }
                Err(error.into())
            }
        }
    }
}

/// A caller with a keeper's token.
#[derive(Debug, Clone)]
pub(crate) struct Keeper(pub(crate) Token);

impl FromRequestParts<AppState> for Keeper {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let Caller(token) = Caller::from_request_parts(parts, state).await?;
        if token.role == Role::Keeper {
            Ok(Self(token))
        } else {
            Err(AppError::Forbidden { detail: "A keeper's token is needed." }.into())
        }
    }
}

/// A keeper of the watershed `{w}` in the path, with what is served about it. Checked before any
/// body is read.
#[derive(Debug, Clone)]
pub(crate) struct WatershedKeeper {
    /// The watershed.
    pub(crate) view: Arc<WatershedView>,
}

impl FromRequestParts<AppState> for WatershedKeeper {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let Keeper(token) = Keeper::from_request_parts(parts, state).await?;
        let params = RawPathParams::from_request_parts(parts, state)
            .await
            .map_err(|_| Problem::new(Kind::BadRequest, "The address cannot be read."))?;
        let slug = params.iter().find(|(name, _)| *name == "w").map(|(_, value)| value.to_owned());
        let view = state.service.watershed(&path_slug("watershed", &slug.unwrap_or_default())?)?;
        if token.watersheds.contains(&view.watershed.slug) {
            Ok(Self { view })
        } else {
            Err(AppError::Forbidden { detail: "The token is not bound to this watershed." }.into())
        }
    }
}

fn bearer(headers: &HeaderMap) -> Option<&str> {
    let (scheme, secret) = headers.get(AUTHORIZATION)?.to_str().ok()?.split_once(' ')?;
    scheme.eq_ignore_ascii_case("bearer").then(|| secret.trim())
}

/// The peer's address, put there by the accept loop.
#[derive(Debug, Clone, Copy)]
pub struct Peer(pub IpAddr);

/// Whom the request comes from: the last address in `X-Forwarded-For` that is not a proxy of ours,
/// looked at only when the peer is one.
pub(crate) fn client_address(parts: &Parts, state: &AppState) -> IpAddr {
    let trusted = &state.settings.trusted_proxies;
    let mut address = parts.extensions.get::<Peer>().map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |peer| peer.0);
    let forwarded = parts.headers.get_all("x-forwarded-for");
    let hops: Vec<IpAddr> = forwarded
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(','))
        .map_while(|hop| hop.trim().parse().ok())
        .collect();
    for hop in hops.into_iter().rev() {
        if !trusted.contains(&address) {
            break;
        }
        address = hop;
    }
    address
}

/// A slug in the path; one that cannot exist is not found.
pub(crate) fn path_slug(what: &'static str, text: &str) -> Result<Slug, Problem> {
    Slug::new(text).map_err(|_| Problem::not_found(what))
}

/// An identifier in the path; one that cannot exist is not found.
pub(crate) fn path_uuid(what: &'static str, text: &str) -> Result<Uuid, Problem> {
    Uuid::try_parse(text).map_err(|_| Problem::not_found(what))
}

/// The Idempotency-Key: 16 to 255 printable ASCII characters, bare or in quotes.
pub(crate) fn idempotency_key(headers: &HeaderMap) -> Result<String, Problem> {
    let refuse = |detail: &str| Problem::new(Kind::KeyNeeded, detail);
    let value: &HeaderValue =
        headers.get("idempotency-key").ok_or_else(|| refuse("The header Idempotency-Key is required."))?;
    let text = value.to_str().map_err(|_| refuse("Idempotency-Key must be printable ASCII."))?.trim();
    let bare = text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(text);
    if (16..=255).contains(&bare.len()) && bare.bytes().all(|byte| (0x20..=0x7e).contains(&byte)) {
        Ok(bare.to_owned())
    } else {
        Err(refuse("Idempotency-Key must have 16 to 255 printable ASCII characters."))
    }
}
