//! Signing in and out, and the waters of who is signed in.

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::header::SET_COOKIE;
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode};
use axum::response::IntoResponse as _;
use maud::{Markup, html};

use super::form::{Fields, Form, Refused};
use super::frame::{Said, answered, at, framed, see_other, sent, signed_in, told};
use super::session::{DESK, Sent, Signed, from_here, key_in, read_form, set_cookie};
use crate::app::document::Faults;
use crate::app::{AppError, desk, moderation};
use crate::http::extract::Tries;
use crate::http::problem::Problem;
use crate::http::query::Query;
use crate::http::state::AppState;

/// `/desk`: the waters of who is signed in, or the form to sign in.
pub(crate) async fn desk_page(
    State(state): State<AppState>,
    Query(said): Query<Said>,
    headers: HeaderMap,
) -> Result<Response<Body>, Problem> {
    let Some(key) = key_in(&headers, &state.settings) else { return Ok(sent(form(said, None))) };
    match desk::keeper_of(&state.service, &key).await {
        Ok(token) => Ok(sent(waters(&state, &Signed { token, key }, said).await?)),
        Err(AppError::Unauthenticated) => Ok(sent(form(said, None))),
        Err(other) => Err(other.into()),
    }
}

async fn waters(state: &AppState, signed: &Signed, said: Said) -> Result<Markup, Problem> {
    let mut kept = Vec::new();
    for slug in &signed.token.watersheds {
        let view = state.service.watershed(slug)?;
        let waiting = moderation::waiting(&state.service, slug).await?;
        kept.push((view, waiting));
    }
    let body = html! {
        (signed_in(signed))
        h1 { "Your waters" }
        (told(said))
        ul.cards {
            @for (view, waiting) in &kept {
                li {
                    a href=(at(view, "")) { (view.watershed.name) }
                    p.quiet {
                        @match waiting {
                            0 => { "No report waits." }
                            1 => { "1 report waits for you." }
                            more => { (more) " reports wait for you." }
                        }
                    }
                }
            }
        }
    };
    Ok(framed("Your waters", &body))
}

fn form(said: Said, refused: Option<&Refused>) -> Markup {
    let fields = Fields::new("sign-in", refused);
    let body = html! {
        h1 { "The keeper's desk" }
        (told(said))
        p { "Reports to decide on, gauges, imports, fits, tokens: for the keepers of a water." }
        (fields.complaint(&["token"]))
        form.filled method="post" action="/desk/sign-in" {
            (fields.line("password", "token", "Keeper token", "",
                "It begins with subimago_. A session lasts twelve hours; the token itself is not kept in the browser."))
            button.main type="submit" { "Sign in" }
        }
    };
    framed("Sign in", &body)
}

/// Begins a session.
pub(crate) async fn sign_in(
    State(state): State<AppState>,
    tries: Tries,
    request: Request,
) -> Result<Response<Body>, Problem> {
    from_here(request.headers(), &state.settings)?;
    let form_sent = read_form(request, &state).await?;
    match desk::sign_in(&state.service, form_sent.text("token")).await {
        Ok(session) => {
            let mut response = see_other(DESK);
            let cookie = set_cookie(&state.settings, &session.key, session.lasts_s);
            let cookie =
                HeaderValue::from_str(&cookie).map_err(|_| Problem::from(AppError::Internal("a cookie".to_owned())))?;
            response.headers_mut().insert(SET_COOKIE, cookie);
            Ok(response)
        }
        Err(error @ (AppError::Unauthenticated | AppError::Forbidden { .. })) => {
            let (status, rule) = if matches!(error, AppError::Forbidden { .. }) {
                (StatusCode::FORBIDDEN, "is a member's; the desk opens with a keeper's")
            } else {
                tries.wrong(&state);
                (StatusCode::UNAUTHORIZED, "is unknown, has ended or was revoked")
            };
            let mut refused = Refused::faults("sign-in", Form::default(), Faults::one("#/token", "refused", rule));
            refused.status = status;
            Ok(answered(Some(&refused), form(Said(None), Some(&refused))))
        }
        Err(other) => Err(other.into()),
    }
}

/// Ends the session.
pub(crate) async fn sign_out(State(state): State<AppState>, Sent { at: signed, .. }: Sent<Signed>) -> Response<Body> {
    if let Err(error) = desk::sign_out(&state.service, &signed.key).await {
        return Problem::from(error).into_response();
    }
    let mut response = see_other("/desk?said=out#said");
    if let Ok(cookie) = HeaderValue::from_str(&set_cookie(&state.settings, "", 0)) {
        response.headers_mut().insert(SET_COOKIE, cookie);
    }
    response
}
