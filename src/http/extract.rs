//! Extractors of our own, whose refusals are problems: bodies, tokens, places in the path.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::Arc;

use axum::body::Bytes;
use axum::extract::{FromRequest, FromRequestParts, RawPathParams, Request};
use axum::http::header::{ACCEPT, ACCEPT_ENCODING, AUTHORIZATION, CONTENT_ENCODING, CONTENT_TYPE};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Method};
use serde_json::Value;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::limits::{Slip, Standing};
use super::occurrence::Usual;
use super::problem::{Kind, Problem};
use super::state::AppState;
use crate::app::digest::hex;
use crate::app::document::{Input, read};
use crate::app::once::Once;
use crate::app::{AppError, WatershedView};
use crate::domain::Slug;
use crate::domain::token::{Role, Token};

/// A JSON body as it is.
#[derive(Debug)]
pub(crate) struct Json(pub(crate) Value);

impl FromRequest<AppState> for Json {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, Problem> {
        require_json(request.method(), request.headers())?;
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

const MERGE_PATCH: &str = "application/merge-patch+json";

fn require_json(method: &Method, headers: &HeaderMap) -> Result<(), Problem> {
    require_plain(headers)?;
    match media_type(headers).as_deref() {
        Some("application/json") => Ok(()),
        Some(MERGE_PATCH) if *method == Method::PATCH => Ok(()),
        _ => {
            let problem = Problem::new(Kind::UnsupportedMediaType, "Send Content-Type: application/json.");
            // RFC 7396: a change is a merge patch under either name.
            let both = HeaderValue::from_static("application/json, application/merge-patch+json");
            Err(if *method == Method::PATCH { problem.with_header(ACCEPT, both) } else { problem })
        }
    }
}

/// The media type of a body, without parameters.
pub(crate) fn media_type(headers: &HeaderMap) -> Option<String> {
    let text = headers.get(CONTENT_TYPE)?.to_str().ok()?;
    Some(text.split(';').next().unwrap_or_default().trim().to_ascii_lowercase())
}

/// Refuses a body that is packed.
pub(crate) fn require_plain(headers: &HeaderMap) -> Result<(), Problem> {
    if headers.get(CONTENT_ENCODING).is_some_and(|coding| !coding.as_bytes().eq_ignore_ascii_case(b"identity")) {
        let problem = Problem::new(Kind::UnsupportedMediaType, "Send the body without Content-Encoding.");
        return Err(problem.with_header(ACCEPT_ENCODING, HeaderValue::from_static("identity")));
    }
    Ok(())
}

/// A caller with a valid token.
#[derive(Debug, Clone)]
pub(crate) struct Caller(pub(crate) Token);

impl FromRequestParts<AppState> for Caller {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let address = client_address(parts, state);
        let now = state.service.now();
        let slip = parts.extensions.get::<Slip>().cloned().unwrap_or_default();
        let wait = |standing: Standing, detail| {
            let retry_after_s = standing.reset_s;
            slip.fill(standing);
            AppError::TooMany { detail, retry_after_s }
        };
        if let Some(standing) = state.failures.blocked(address, now) {
            return Err(wait(standing, "Too many wrong tokens from this address.").into());
        }
        let Some(secret) = bearer(&parts.headers) else { return Err(AppError::Unauthenticated.into()) };
        match crate::app::access::authenticate(&state.service, secret).await {
            Ok(token) if parts.method.is_safe() => Ok(Self(token)),
            Ok(token) => {
                let (standing, allowed) = state.writes.take(token.id, now);
                if !allowed {
                    return Err(wait(standing, "This token writes too often.").into());
                }
                slip.fill(standing);
                Ok(Self(token))
            }
            Err(error) => {
                if matches!(error, AppError::Unauthenticated) {
                    slip.fill(state.failures.count(address, now));
                }
                Err(error.into())
            }
        }
    }
}

/// Who shows a secret that is no token, as long as that address may try.
#[derive(Debug, Clone)]
pub(crate) struct Tries {
    address: IpAddr,
    slip: Slip,
}

impl FromRequestParts<AppState> for Tries {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let address = client_address(parts, state);
        let slip = parts.extensions.get::<Slip>().cloned().unwrap_or_default();
        if let Some(standing) = state.failures.blocked(address, state.service.now()) {
            let retry_after_s = standing.reset_s;
            slip.fill(standing);
            return Err(AppError::TooMany { detail: "Too many wrong tries from this address.", retry_after_s }.into());
        }
        Ok(Self { address, slip })
    }
}

impl Tries {
    /// Counts a wrong one.
    pub(crate) fn wrong(&self, state: &AppState) {
        self.slip.fill(state.failures.count(self.address, state.service.now()));
    }
}

/// A caller with a valid token, or without any; a token that does not hold is refused.
#[derive(Debug, Clone)]
pub(crate) struct MaybeCaller(pub(crate) Option<Token>);

impl FromRequestParts<AppState> for MaybeCaller {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        if !parts.headers.contains_key(AUTHORIZATION) {
            return Ok(Self(None));
        }
        let Caller(token) = Caller::from_request_parts(parts, state).await?;
        Ok(Self(Some(token)))
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

/// What is served about the watershed `{w}` in the path.
#[derive(Debug, Clone)]
pub(crate) struct Water(pub(crate) Arc<WatershedView>);

impl FromRequestParts<AppState> for Water {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let params = RawPathParams::from_request_parts(parts, state)
            .await
            .map_err(|_| Problem::new(Kind::BadRequest, Usual::AddressUnreadable))?;
        let slug = params.iter().find(|(name, _)| *name == "w").map(|(_, value)| value.to_owned());
        Ok(Self(state.service.watershed(&path_slug("watershed", &slug.unwrap_or_default())?)?))
    }
}

/// A keeper of the watershed `{w}` in the path, with what is served about it. Checked before any
/// body is read.
#[derive(Debug, Clone)]
pub(crate) struct WatershedKeeper {
    /// The watershed.
    pub(crate) view: Arc<WatershedView>,
    /// The token.
    pub(crate) token: Token,
}

impl FromRequestParts<AppState> for WatershedKeeper {
    type Rejection = Problem;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Problem> {
        let Keeper(token) = Keeper::from_request_parts(parts, state).await?;
        let Water(view) = Water::from_request_parts(parts, state).await?;
        if token.watersheds.contains(&view.watershed.slug) {
            Ok(Self { view, token })
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
/// looked at only when the peer is one. What stands before an entry that is no address nobody vouches for.
pub(crate) fn client_address(parts: &Parts, state: &AppState) -> IpAddr {
    let peer = parts.extensions.get::<Peer>().map_or(IpAddr::V4(Ipv4Addr::LOCALHOST), |peer| peer.0);
    sent_from(peer, &parts.headers, &state.settings.trusted_proxies)
}

fn sent_from(peer: IpAddr, headers: &HeaderMap, trusted: &[IpAddr]) -> IpAddr {
    let mut address = peer;
    for line in headers.get_all("x-forwarded-for").iter().rev() {
        // A line may hold letters that are no ASCII further to the left.
        for hop in line.as_bytes().rsplit(|byte| *byte == b',') {
            if !trusted.contains(&address) {
                return address;
            }
            let Some(hop) = std::str::from_utf8(hop).ok().and_then(address_of_hop) else { return address };
            address = hop;
        }
    }
    address
}

/// An address, some proxies add a port to it or write brackets around one of IPv6.
fn address_of_hop(hop: &str) -> Option<IpAddr> {
    let hop = hop.trim();
    let bare = hop.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')).unwrap_or(hop);
    bare.parse().ok().or_else(|| hop.parse::<SocketAddr>().ok().map(|at| at.ip()))
}

/// A slug in the path; one that cannot exist is not found.
pub(crate) fn path_slug(what: &'static str, text: &str) -> Result<Slug, Problem> {
    Slug::new(text).map_err(|_| Problem::not_found(what))
}

/// An identifier in the path; one that cannot exist is not found.
pub(crate) fn path_uuid(what: &'static str, text: &str) -> Result<Uuid, Problem> {
    Uuid::try_parse(text).map_err(|_| Problem::not_found(what))
}

/// A creating request: its body, and the Idempotency-Key it may come under.
#[derive(Debug)]
pub(crate) struct Posted {
    body: Value,
    key: Option<String>,
    route: String,
}

impl FromRequest<AppState> for Posted {
    type Rejection = Problem;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, Problem> {
        let key = idempotency_key(request.headers())?;
        let route = format!("{} {}", request.method(), request.uri().path());
        let Json(mut body) = Json::from_request(request, state).await?;
        // However its members were ordered, the same body is the same request.
        body.sort_all_objects();
        Ok(Self { body, key, route })
    }
}

impl Posted {
    /// The same where a key is required.
    pub(crate) fn keyed(self) -> Result<Self, Problem> {
        match self.key {
            Some(_) => Ok(self),
            None => Err(Problem::new(Kind::KeyNeeded, "The header Idempotency-Key is required.")),
        }
    }

    /// What is asked for, read as `T`, and how to do it once for the token `token_id`.
    pub(crate) fn read<T: Input>(self, token_id: Uuid) -> Result<(T::Domain, Once), Problem> {
        let fingerprint = hex(&Sha256::digest(self.body.to_string()));
        let wish = read::<T>(self.body).map_err(AppError::Faults)?;
        Ok((wish, Once { token_id, route: self.route, key: self.key, fingerprint }))
    }
}

/// The Idempotency-Key, if any: 16 to 255 printable ASCII characters, bare or in quotes.
pub(crate) fn idempotency_key(headers: &HeaderMap) -> Result<Option<String>, Problem> {
    let refuse = |detail: &str| Problem::new(Kind::KeyNeeded, detail);
    let Some(value) = headers.get("idempotency-key") else { return Ok(None) };
    let text = value.to_str().map_err(|_| refuse("Idempotency-Key must be printable ASCII."))?.trim();
    let bare = text.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(text);
    if (16..=255).contains(&bare.len()) && bare.bytes().all(|byte| (0x20..=0x7e).contains(&byte)) {
        Ok(Some(bare.to_owned()))
    } else {
        Err(refuse("Idempotency-Key must have 16 to 255 printable ASCII characters."))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ip(text: &str) -> IpAddr {
        text.parse().expect("an address")
    }

    #[test]
    fn the_last_address_that_is_no_proxy_of_ours_asks() {
        let trusted = [ip("10.0.0.1"), ip("10.0.0.2")];
        let from = |peer: &str, lines: &[&str]| {
            let mut headers = HeaderMap::new();
            for line in lines {
                headers.append("x-forwarded-for", line.parse().expect("a header"));
            }
            sent_from(ip(peer), &headers, &trusted).to_string()
        };
        assert_eq!(from("10.0.0.1", &["203.0.113.5"]), "203.0.113.5");
        assert_eq!(from("10.0.0.1", &["198.51.100.7, 203.0.113.5, 10.0.0.2"]), "203.0.113.5");
        assert_eq!(from("10.0.0.1", &["198.51.100.7", "203.0.113.5", "10.0.0.2"]), "203.0.113.5");
        assert_eq!(from("10.0.0.1", &["unknown, 203.0.113.5"]), "203.0.113.5");
        assert_eq!(from("10.0.0.1", &["unknown, 203.0.113.5:4711, 10.0.0.2:80"]), "203.0.113.5");
        assert_eq!(from("10.0.0.1", &["[2001:db8::7]:4711"]), "2001:db8::7");
        assert_eq!(from("10.0.0.1", &["[2001:db8::7]"]), "2001:db8::7");
        assert_eq!(from("10.0.0.1", &["2001:db8::7"]), "2001:db8::7");
        // Nobody vouches for what stands before an entry that is no address, nor for what a stranger says.
        assert_eq!(from("10.0.0.1", &["203.0.113.5, unknown"]), "10.0.0.1");
        assert_eq!(from("192.0.2.9", &["203.0.113.5"]), "192.0.2.9");
        assert_eq!(from("10.0.0.1", &[]), "10.0.0.1");
    }
}
