//! Who is given the calendar and the news: everyone, or who holds a secret address.

use axum::body::Body;
use axum::extract::State;
use axum::http::Response;
use maud::{Markup, html};
use serde_json::json;

use super::editor::{held, version_of};
use super::form::{Fields, Form, Refused};
use super::frame::{Said, answered, at, day, page_at, saying, see_other, sent};
use super::session::{AtWater, Sent};
use super::shown_once::{Shown, end_button, hidden, once};
use crate::app::document::{FeedAddressInput, FeedsDocument, read};
use crate::app::{AppError, feed_access};
use crate::http::extract::path_uuid;
use crate::http::problem::Problem;
use crate::http::query::Query;
use crate::http::state::AppState;

/// `/desk/{w}/feeds`
pub(crate) async fn feeds_page(
    State(state): State<AppState>,
    who: AtWater,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    Ok(sent(page(&state, &who, said, None, None).await?))
}

/// Makes a secret address, takes one back, or says who is given the feeds.
pub(crate) async fn change(
    State(state): State<AppState>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let (service, water) = (&state.service, &who.view.watershed.slug);
    let of = form.text("form").to_owned();
    let outcome: Result<Result<&'static str, Shown>, AppError> = match of.as_str() {
        "address" => new_address(&state, &who, &form).await.map(Err),
        "end" => {
            feed_access::revoke(service, water, path_uuid("address", form.text("id"))?).await.map(|()| Ok("revoked"))
        }
        "given" => {
            let (wish, version) = (json!({ "private": form.ticked("private") }), form.text("version").to_owned());
            feed_access::change(service, water, wish, held::<FeedsDocument>(version)).await.map(|_| Ok("saved"))
        }
        _ => return Err(Problem::not_found("form")),
    };
    match outcome {
        Ok(Ok(word)) => Ok(see_other(&saying(&at(&who.view, "/feeds"), word))),
        Ok(Err(shown)) => Ok(sent(page(&state, &who, Said(None), None, Some(&shown)).await?)),
        Err(error) => {
            let refused = Refused::new(&of, form, error)?;
            Ok(answered(Some(&refused), page(&state, &who, Said(None), Some(&refused), None).await?))
        }
    }
}

async fn new_address(state: &AppState, who: &AtWater, form: &Form) -> Result<Shown, AppError> {
    let name = read::<FeedAddressInput>(form.document(&["name"], &[]).into()).map_err(AppError::Faults)?;
    let advice = format!(
        "For {name}: the calendar, and below it the news. Programs subscribe to them as they stand; whoever has one \
        reads what members read."
    );
    let answer =
        feed_access::create(&state.service, &who.view.watershed.slug, name, &once(who, form, "address")).await?;
    let mut shown = Shown::of(&answer, &["calendar", "news"], "Secret address", advice)?;
    shown.secrets = shown.secrets.iter().map(|path| state.url(path)).collect();
    Ok(shown)
}

async fn page(
    state: &AppState,
    who: &AtWater,
    said: Said,
    refused: Option<&Refused>,
    shown: Option<&Shown>,
) -> Result<Markup, Problem> {
    let feeds = feed_access::feeds(&state.service, &who.view.watershed.slug).await?;
    let version = version_of(&feeds)?;
    let (given, address) = (Fields::new("given", refused), Fields::new("address", refused));
    let here = at(&who.view, "/feeds");
    let body = html! {
        @if let Some(shown) = shown { (shown.drawn()) }
        p { "The calendar and the news of this water can be subscribed to. Pages and forecasts stay open to everyone." }
        h2 { "Who is given them" }
        (given.complaint(&["private"]))
        form.filled method="post" action=(here) {
            (hidden(who, "given", false))
            input type="hidden" name="version" value=(version);
            (given.tick("private", "Only who has a secret address", feeds.private))
            button type="submit" { "Save" }
        }
        h2 { "Secret addresses" }
        p { "Under such an address the feeds also tell what is for members. Make one for each person or list: it can be taken back alone." }
        (address.complaint(&["name"]))
        form.filled method="post" action=(here) {
            (hidden(who, "address", true))
            (address.line("text", "name", "Whom it is for", "", "For your own list, such as Committee."))
            button.main type="submit" { "Make a secret address" }
        }
        (addresses(who, &feeds, &here))
    };
    Ok(page_at(who, "/feeds", "Feeds", said, &body))
}

fn addresses(who: &AtWater, feeds: &FeedsDocument, here: &str) -> Markup {
    let zone = who.view.watershed.time_zone;
    html! {
        @if feeds.addresses.is_empty() {
            p { "None yet." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="Secret addresses" {
                table {
                    caption { "Never the addresses themselves. One that is taken back opens nothing from then on." }
                    thead { tr { th scope="col" { "For" } th scope="col" { "Made" } th scope="col" { "State" } } }
                    tbody {
                        @for address in feeds.addresses.iter().rev() {
                            tr {
                                th scope="row" { (address.name) }
                                td { (day(address.created_at, zone)) }
                                td {
                                    @match address.revoked_at {
                                        Some(at) => { "taken back " (day(at, zone)) }
                                        None => (end_button(who, here, "end", address.id, "Take it back", &address.name)),
                                    }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
