//! Who sits at the desk, and whether a form was sent from there.
//!
//! The cookie holds a random key and nothing else. It never leaves with a request that another site began
//! (`SameSite=Strict`); beyond that every form must come from an address of ours (`Origin`) and carry the mark of its
//! session.

use std::sync::Arc;

use axum::body::{Body, Bytes};
use axum::extract::{FromRequest, FromRequestParts, Request};
use axum::http::header::{COOKIE, HOST, ORIGIN};
use axum::http::request::Parts;
use axum::http::{HeaderMap, Response};
use axum::response::IntoResponse;

use super::form::Form;
use super::frame::see_other;
use crate::app::{AppError, WatershedView, desk};
use crate::domain::token::Token;
use crate::http::extract::{Water, media_type, require_plain};
use crate::http::problem::{Kind, Problem};
use crate::http::state::{AppState, Settings};

/// Where the desk begins, and where keepers sign in.
pub(super) const DESK: &str = "/desk";

/// Name of the cookie, and the rest of what is said when it is set. Where the service is reached over https the name
/// has a beginning that browsers take from a secure origin alone, for all of it.
fn cookie(settings: &Settings) -> (&'static str, &'static str) {
    if settings.public_url.starts_with("https://") {
        ("__Host-subimago_desk", "Path=/; HttpOnly; SameSite=Strict; Secure")
    } else {
        ("subimago_desk", "Path=/desk; HttpOnly; SameSite=Strict")
    }
}

/// Value of `Set-Cookie` that keeps `key` for `lasts_s` seconds; an empty key is forgotten at once.
pub(super) fn set_cookie(settings: &Settings, key: &str, lasts_s: i64) -> String {
    let (name, rest) = cookie(settings);
    format!("{name}={key}; Max-Age={lasts_s}; {rest}")
}

/// The session's key in a request.
pub(super) fn key_in(headers: &HeaderMap, settings: &Settings) -> Option<String> {
    let (name, _) = cookie(settings);
    headers
        .get_all(COOKIE)
        .iter()
        .filter_map(|value| value.to_str().ok())
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find(|(known, _)| *known == name)
        .map(|(_, key)| key.to_owned())
}

/// A keeper who is signed in.
#[derive(Debug, Clone)]
pub(crate) struct Signed {
    /// The keeper's token, as it is now.
    pub(super) token: Token,
    /// The session's key.
    pub(super) key: String,
}

impl Signed {
    /// What the forms of this session carry.
    pub(super) fn mark(&self) -> String {
        desk::form_mark(&self.key)
    }
}

impl FromRequestParts<AppState> for Signed {
    type Rejection = Response<Body>;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Response<Body>> {
        let Some(key) = key_in(&parts.headers, &state.settings) else { return Err(see_other(DESK)) };
        match desk::keeper_of(&state.service, &key).await {
            Ok(token) => Ok(Self { token, key }),
            Err(AppError::Unauthenticated) => Err(see_other(&format!("{DESK}?said=ended"))),
            Err(other) => Err(Problem::from(other).into_response()),
        }
    }
}

/// A keeper who is signed in, at a water of theirs.
#[derive(Debug, Clone)]
pub(crate) struct AtWater {
    /// The keeper.
    pub(super) signed: Signed,
    /// What is served about the water.
    pub(super) view: Arc<WatershedView>,
}

impl FromRequestParts<AppState> for AtWater {
    type Rejection = Response<Body>;

    async fn from_request_parts(parts: &mut Parts, state: &AppState) -> Result<Self, Response<Body>> {
        let signed = Signed::from_request_parts(parts, state).await?;
        let Water(view) = Water::from_request_parts(parts, state).await.map_err(IntoResponse::into_response)?;
        if signed.token.watersheds.contains(&view.watershed.slug) {
            Ok(Self { signed, view })
        } else {
            let error = AppError::Forbidden { detail: "Your token is not bound to this water." };
            Err(Problem::from(error).into_response())
        }
    }
}

/// A form that a keeper sent from the desk.
#[derive(Debug)]
pub(crate) struct Sent<T> {
    /// The keeper, and where.
    pub(super) at: T,
    /// The fields.
    pub(super) form: Form,
}

/// What knows the keeper of a session.
pub(crate) trait HasKeeper {
    /// The keeper.
    fn signed(&self) -> &Signed;
}

impl HasKeeper for Signed {
    fn signed(&self) -> &Signed {
        self
    }
}

impl HasKeeper for AtWater {
    fn signed(&self) -> &Signed {
        &self.signed
    }
}

impl<T> FromRequest<AppState> for Sent<T>
where
    T: FromRequestParts<AppState, Rejection = Response<Body>> + HasKeeper + Send,
{
    type Rejection = Response<Body>;

    async fn from_request(request: Request, state: &AppState) -> Result<Self, Response<Body>> {
        let (mut parts, body) = request.into_parts();
        from_here(&parts.headers, &state.settings).map_err(IntoResponse::into_response)?;
        let at = T::from_request_parts(&mut parts, state).await?;
        may_write(at.signed(), state).map_err(IntoResponse::into_response)?;
        let form = read_form(Request::from_parts(parts, body), state).await.map_err(IntoResponse::into_response)?;
        check_mark(at.signed(), &form).map_err(IntoResponse::into_response)?;
        Ok(Self { at, form })
    }
}

/// Counts a write of the keeper.
pub(super) fn may_write(signed: &Signed, state: &AppState) -> Result<(), Problem> {
    let (standing, allowed) = state.writes.take(signed.token.id, state.service.now());
    if allowed {
        return Ok(());
    }
    Err(AppError::TooMany { detail: "This token writes too often.", retry_after_s: standing.reset_s }.into())
}

/// Refuses a form without the mark of the session.
pub(super) fn check_mark(signed: &Signed, form: &Form) -> Result<(), Problem> {
    if form.text("mark") == signed.mark() {
        return Ok(());
    }
    Err(Problem::new(Kind::Forbidden, "This form is of another session. Open the page again and send it from there."))
}

/// Refuses what another site sent. Browsers say with every form where it stands; a form from a program that says
/// nothing is refused too.
pub(super) fn from_here(headers: &HeaderMap, settings: &Settings) -> Result<(), Problem> {
    let text = |name| headers.get(name).and_then(|value: &axum::http::HeaderValue| value.to_str().ok());
    let here = match text(ORIGIN) {
        Some(origin) => {
            let host = origin.split_once("://").map(|(_, host)| host);
            origin == settings.public_url || (host.is_some() && host == text(HOST))
        }
        None => headers.get("sec-fetch-site").is_some_and(|site| site == "same-origin"),
    };
    if here {
        Ok(())
    } else {
        Err(Problem::new(Kind::Forbidden, "This form was not sent from a page of this service."))
    }
}

/// The fields of a form.
pub(super) async fn read_form(request: Request, state: &AppState) -> Result<Form, Problem> {
    require_plain(request.headers())?;
    if media_type(request.headers()).as_deref() != Some("application/x-www-form-urlencoded") {
        return Err(Problem::new(Kind::UnsupportedMediaType, "Forms are sent as application/x-www-form-urlencoded."));
    }
    let bytes = Bytes::from_request(request, state)
        .await
        .map_err(|_| Problem::new(Kind::TooLarge, "The form is too large."))?;
    Form::read(&bytes).ok_or_else(|| Problem::new(Kind::MalformedBody, "The form cannot be read."))
}
