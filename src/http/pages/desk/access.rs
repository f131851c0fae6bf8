//! Tokens and join codes: made, shown once, revoked; and the people behind tokens forgotten.

use axum::body::Body;
use axum::extract::State;
use axum::http::Response;
use maud::{Markup, html};
use serde_json::Value;

use super::form::{Fields, Form, Refused};
use super::frame::{Said, answered, at, clock, day, page_at, saying, see_other, sent};
use super::session::{AtWater, Sent};
use super::shown_once::{Shown, end_button, hidden, once};
use crate::app::document::{JoinCodeInput, TokenInput, read};
use crate::app::{AppError, access, join};
use crate::domain::JoinCode;
use crate::domain::token::Token;
use crate::http::extract::path_uuid;
use crate::http::problem::Problem;
use crate::http::query::Query;
use crate::http::state::AppState;

/// `/desk/{w}/access`
pub(crate) async fn access_page(
    State(state): State<AppState>,
    who: AtWater,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    Ok(sent(page(&state, &who, said, None, None).await?))
}

/// Makes or ends what the form names.
pub(crate) async fn change(
    State(state): State<AppState>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let (service, keeper, slug) = (&state.service, &who.signed.token, &who.view.watershed.slug);
    let of = form.text("form").to_owned();
    let id = |what| path_uuid(what, form.text("id"));
    let outcome: Result<Result<&'static str, Shown>, AppError> = match of.as_str() {
        "token" => new_token(&state, &who, &form).await.map(Err),
        "code" => new_code(&state, &who, &form).await.map(Err),
        "revoke-token" => access::revoke(service, keeper, id("token")?).await.map(|()| Ok("revoked")),
        "revoke-code" => join::revoke(service, slug, id("code")?).await.map(|()| Ok("revoked")),
        "erase" if form.ticked("sure") => access::erase(service, keeper, id("token")?).await.map(|_| Ok("erased")),
        "erase" => Err(AppError::fault("#/sure", "missing", "must be ticked: there is no way back")),
        _ => return Err(Problem::not_found("form")),
    };
    match outcome {
        Ok(Ok(word)) => Ok(see_other(&saying(&at(&who.view, "/access"), word))),
        Ok(Err(shown)) => Ok(sent(page(&state, &who, Said(None), None, Some(&shown)).await?)),
        Err(error) => {
            // The form to forget one token is one of many.
            let of = if of == "erase" { format!("erase-{}", form.text("id")) } else { of };
            let refused = Refused::new(&of, form, error)?;
            Ok(answered(Some(&refused), page(&state, &who, Said(None), Some(&refused), None).await?))
        }
    }
}

async fn new_token(state: &AppState, who: &AtWater, form: &Form) -> Result<Shown, AppError> {
    let mut wish = form.document(&["name", "role"], &["days"]);
    wish.insert("watersheds".to_owned(), Value::from(vec![who.view.watershed.slug.to_string()]));
    let request = read::<TokenInput>(wish.into()).map_err(AppError::Faults)?;
    let answer = access::create(&state.service, &who.signed.token, &request, &once(who, form, "token")).await?;
    let advice =
        format!("For {}. Give it to them alone; it goes into the form under \u{201c}Your token\u{201d}.", request.name);
    Shown::of(&answer, &["secret"], "Token", advice)
}

async fn new_code(state: &AppState, who: &AtWater, form: &Form) -> Result<Shown, AppError> {
    let wish =
        read::<JoinCodeInput>(form.document(&["name"], &["most_uses", "days"]).into()).map_err(AppError::Faults)?;
    let answer = join::create(&state.service, &who.view.watershed.slug, &wish, &once(who, form, "code")).await?;
    let address = state.url(&format!("/report?w={}", who.view.watershed.slug));
    let advice =
        format!("For {}. Members open {address}, choose \u{201c}I have a code\u{201d} and type it.", wish.name);
    Shown::of(&answer, &["code"], "Join code", advice)
}

async fn page(
    state: &AppState,
    who: &AtWater,
    said: Said,
    refused: Option<&Refused>,
    shown: Option<&Shown>,
) -> Result<Markup, Problem> {
    let slug = &who.view.watershed.slug;
    let codes = join::list(&state.service, slug).await?;
    let tokens = access::list(&state.service, &who.signed.token).await?;
    let here: Vec<&Token> = tokens.iter().filter(|token| token.watersheds.contains(slug)).collect();
    let now = state.service.now();
    let body = html! {
        @if let Some(shown) = shown { (shown.drawn()) }
        h2 { "Join codes" }
        p { "A code lets members make tokens of their own in the report form: for a meeting, or a message to the club." }
        (code_form(who, Fields::new("code", refused)))
        (codes_table(who, &codes, now))
        h2 { "Tokens" }
        (token_form(who, Fields::new("token", refused)))
        (tokens_table(who, &here, now))
        h2 { "Forget a person" }
        p { "Takes a member's name and free text away and ends the token; what was observed stays. There is no way back." }
        (erase_forms(who, &here, refused))
    };
    Ok(page_at(who, "/access", "Tokens and codes", said, &body))
}

fn code_form(who: &AtWater, fields: Fields<'_>) -> Markup {
    html! {
        (fields.complaint(&["name", "most_uses", "days"]))
        form.filled method="post" action=(at(&who.view, "/access")) {
            (hidden(who, "code", true))
            (fields.line("text", "name", "Whom it is for", "", "For your own list, such as Spring meeting."))
            div.pair {
                (fields.line("whole", "most_uses", "How many may use it", "10", ""))
                (fields.line("whole", "days", "Days until it ends", "14", ""))
            }
            button.main type="submit" { "Make a join code" }
        }
    }
}

fn token_form(who: &AtWater, fields: Fields<'_>) -> Markup {
    let roles = [("member", "Member: files reports"), ("keeper", "Keeper: everything at this desk")];
    let roles: Vec<(String, String)> =
        roles.iter().map(|(word, shown)| ((*word).to_owned(), (*shown).to_owned())).collect();
    html! {
        (fields.complaint(&["name", "role", "days"]))
        form.filled method="post" action=(at(&who.view, "/access")) {
            (hidden(who, "token", true))
            (fields.line("text", "name", "Who or what it is for", "", ""))
            div.pair {
                (fields.choice("role", "Role", "member", "", &roles))
                (fields.line("whole", "days", "Days until it ends", "365", ""))
            }
            button.main type="submit" { "Make a token" }
        }
    }
}

fn codes_table(who: &AtWater, codes: &[JoinCode], now: chrono::DateTime<chrono::Utc>) -> Markup {
    let zone = who.view.watershed.time_zone;
    html! {
        @if codes.is_empty() {
            p { "No codes yet." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="Join codes" {
                table {
                    caption { "Never the codes themselves. Tokens that came by a code stay when it ends." }
                    thead { tr { th scope="col" { "For" } th scope="col" { "Used" } th scope="col" { "Ends" } th scope="col" { "State" } } }
                    tbody {
                        @for code in codes.iter().rev() {
                            tr {
                                th scope="row" { (code.name) }
                                td { (code.uses) " of " (code.most_uses) }
                                td { (clock(code.expires_at, zone)) }
                                td {
                                    @if code.holds(now) { (end_button(who, &at(&who.view, "/access"), "revoke-code", code.id, "Revoke", &code.name)) }
                                    @else if code.revoked_at.is_some() { "revoked" }
                                    @else if code.uses >= code.most_uses { "used up" }
                                    @else { "ended" }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn tokens_table(who: &AtWater, tokens: &[&Token], now: chrono::DateTime<chrono::Utc>) -> Markup {
    let zone = who.view.watershed.time_zone;
    html! {
        div.scroll tabindex="0" role="region" aria-label="Tokens" {
            table {
                caption { "Tokens bound to this water and to no other than yours; never their secrets." }
                thead {
                    tr {
                        th scope="col" { "For" } th scope="col" { "Role" } th scope="col" { "Last used" } th scope="col" { "Ends" }
                        th scope="col" { "State" }
                    }
                }
                tbody {
                    @for token in tokens.iter().rev() {
                        tr {
                            th scope="row" { (token.name) @if token.id == who.signed.token.id { " (yours, in use now)" } }
                            td { (token.role.as_str()) }
                            td { @match token.last_used_date { Some(date) => (date.format("%-d %B %Y")), None => "never" } }
                            td { (day(token.expires_at, zone)) }
                            td {
                                @if token.revoked_at.is_some() { "revoked" }
                                @else if token.expires_at <= now { "ended" }
                                @else { (end_button(who, &at(&who.view, "/access"), "revoke-token", token.id, "Revoke", &token.name)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn erase_forms(who: &AtWater, tokens: &[&Token], refused: Option<&Refused>) -> Markup {
    html! {
        @for token in tokens.iter().filter(|token| token.id != who.signed.token.id) {
            @let of = format!("erase-{}", token.id);
            @let fields = Fields::new(&of, refused);
            details open[refused.is_some_and(|refused| refused.of == of)] {
                summary { "Forget " (token.name) }
                (fields.complaint(&["sure"]))
                form method="post" action=(at(&who.view, "/access")) {
                    (hidden(who, "erase", false))
                    input type="hidden" name="id" value=(token.id);
                    (fields.tick("sure", "I am sure", false))
                    button type="submit" { "Forget the person behind this token" }
                }
            }
        }
    }
}
