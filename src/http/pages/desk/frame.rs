//! What the pages of the desk have in common: how they are sent, where one is, what was just done.

use axum::body::Body;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE, LOCATION};
use axum::http::{HeaderValue, Response, StatusCode};
use chrono::{DateTime, Utc};
use chrono_tz::Tz;
use maud::{Markup, html};

use super::form::Refused;
use super::session::{AtWater, DESK, Signed};
use crate::app::WatershedView;
use crate::http::pages::{HTML, layout};
use crate::http::problem::OwnPage;
use crate::http::query::{FromQuery, QueryReader};
use crate::http::respond::PRIVATE;
use crate::words::Language;

/// The style of the desk beside that of every page.
pub(super) const STYLE: &str = include_str!("desk.css");

/// What a page may say was just done: the word in the address, and what is shown for it.
const SAID: [(&str, &str); 22] = [
    ("ended", "Your session has ended. Sign in again."),
    ("out", "You are signed out."),
    ("accepted", "Accepted: models use it from the next fit on."),
    ("rejected", "Set aside: it is out of the next fit and of everything public."),
    ("needs_info", "Set aside until its sender has mended it."),
    ("named", "Named: forecasts follow in a moment."),
    ("undone", "The decision is taken back."),
    ("revoked", "Revoked: the next request with it is refused."),
    ("erased", "Forgotten: name and free text are gone, what was observed stays."),
    ("flagged", "Kept as a new version; the old one stays in the history. Forecasts follow in a moment."),
    ("unchanged", "Nothing changed: it was so already."),
    ("asked", "Queued: the source is asked in a moment."),
    ("made", "Made."),
    ("saved", "Saved."),
    ("added", "Added."),
    ("entered", "Kept. Forecasts follow in a moment."),
    ("sent", "The file is kept and waits for its import."),
    ("fit", "A fit is queued."),
    ("stopped", "Stopped: nothing of it is stored."),
    ("over", "It had ended before it could be stopped."),
    ("told", "Told from its first day on."),
    ("withdrawn", "Taken back: it is shown nowhere from now on."),
];

/// What was just done, by the word in the address.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Said(pub(super) Option<&'static str>);

impl Said {
    /// Reads `said`; a word that is none says nothing.
    pub(super) fn take(reader: &mut QueryReader) -> Self {
        let word = reader.one("said");
        let known = word.and_then(|word| SAID.iter().find(|(known, _)| *known == word));
        Self(known.map(|(_, shown)| *shown))
    }
}

impl FromQuery for Said {
    fn read(reader: &mut QueryReader) -> Self {
        Self::take(reader)
    }
}

/// The address that shows `path` and says that `word` was done.
pub(super) fn saying(path: &str, word: &str) -> String {
    let joint = if path.contains('?') { '&' } else { '?' };
    format!("{path}{joint}said={word}#said")
}

/// The pages of the desk of one water: the end of the address, and the name.
const PLACES: [(&str, &str); 10] = [
    ("", "Reports"),
    ("/notices", "Notices"),
    ("/access", "Tokens and codes"),
    ("/feeds", "Feeds"),
    ("/gauges", "Gauges"),
    ("/imports", "Imports"),
    ("/fits", "Fits"),
    ("/visits", "Visit plan"),
    ("/review", "Season review"),
    ("/places", "Places"),
];

/// Address of a page of the desk of `view`.
pub(super) fn at(view: &WatershedView, rest: &str) -> String {
    format!("{DESK}/{}{rest}", view.watershed.slug)
}

/// A page of the desk of one water. `place` is one of the ends in the menu.
pub(super) fn page_at(who: &AtWater, place: &str, title: &str, said: Said, body: &Markup) -> Markup {
    let view = &who.view;
    let whole = html! {
        (signed_in(&who.signed))
        nav.desk aria-label="Desk" {
            ul {
                @for (end, name) in PLACES {
                    li { a href=(at(view, end)) aria-current=[(end == place).then_some("page")] { (name) } }
                }
            }
        }
        h1 { (title) span.of { " \u{b7} " (view.watershed.name) } }
        (told(said))
        (body)
    };
    framed(&format!("{title}, {}", view.watershed.name), &whole)
}

/// A page of the desk.
pub(super) fn framed(title: &str, body: &Markup) -> Markup {
    let extras =
        layout::Extras { style: Some(layout::versioned("/assets/desk.css", STYLE)), ..layout::Extras::default() };
    layout::page_with(
        Language::English,
        &format!("{title} \u{b7} Desk \u{b7} Subimago"),
        "The keeper's desk.",
        body,
        &extras,
    )
}

/// Who is signed in, with the way out.
pub(super) fn signed_in(signed: &Signed) -> Markup {
    html! {
        div.signed {
            p { a href=(DESK) { "Desk" } " of " strong { (signed.token.name) } }
            form method="post" action="/desk/sign-out" { (mark(signed)) button type="submit" { "Sign out" } }
        }
    }
}

/// What was just done, where the focus goes.
pub(super) fn told(said: Said) -> Markup {
    html! { @if let Some(words) = said.0 { p.said #said role="status" tabindex="-1" { (words) } } }
}

/// The hidden field that every form carries.
pub(super) fn mark(signed: &Signed) -> Markup {
    html! { input type="hidden" name="mark" value=(signed.mark()); }
}

/// The answer with a page of the desk: for one reader alone, and kept nowhere.
pub(super) fn sent(page: Markup) -> Response<Body> {
    with_status(StatusCode::OK, page)
}

/// The page after a form was refused, or after it did what it shows.
pub(super) fn answered(refused: Option<&Refused>, page: Markup) -> Response<Body> {
    with_status(refused.map_or(StatusCode::OK, |refused| refused.status), page)
}

fn with_status(status: StatusCode, page: Markup) -> Response<Body> {
    let mut response = Response::new(Body::from(page.into_string()));
    *response.status_mut() = status;
    response.extensions_mut().insert(OwnPage);
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(HTML));
    headers.insert(CACHE_CONTROL, HeaderValue::from_static(PRIVATE));
    response
}

/// Leads to `path` after a form was sent.
pub(super) fn see_other(path: &str) -> Response<Body> {
    let mut response = Response::new(Body::empty());
    *response.status_mut() = StatusCode::SEE_OTHER;
    let headers = response.headers_mut();
    headers.insert(CACHE_CONTROL, HeaderValue::from_static(PRIVATE));
    // Paths are our own: slugs, identifiers and fixed words.
    headers.insert(LOCATION, HeaderValue::from_str(path).unwrap_or(HeaderValue::from_static(DESK)));
    response
}

/// An instant on the clocks at the water.
pub(super) fn clock(at: DateTime<Utc>, zone: Tz) -> String {
    at.with_timezone(&zone).format("%-d %B %Y, %H:%M").to_string()
}

/// The day of an instant at the water.
pub(super) fn day(at: DateTime<Utc>, zone: Tz) -> String {
    at.with_timezone(&zone).format("%-d %B %Y").to_string()
}
