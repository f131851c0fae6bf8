//! Notices: what a keeper tells those who come to a reach, or to the water, for some days.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::Response;
use chrono::NaiveDate;
use maud::{Markup, html};

use super::editor::{held, version_of};
use super::form::{Fields, Refused};
use super::frame::{Said, answered, at, mark, page_at, saying, see_other, sent};
use super::session::{AtWater, Sent};
use super::shown_once::{end_button, hidden, once};
use crate::app::document::{NoticeDocument, NoticeInput, read};
use crate::app::{AppError, notice};
use crate::domain::{Audience, Notice};
use crate::http::extract::path_uuid;
use crate::http::problem::Problem;
use crate::http::query::Query;
use crate::http::state::AppState;

/// The fields of a notice.
const FIELDS: [&str; 5] = ["reach", "text", "from_date", "until_date", "audience"];

/// `/desk/{w}/notices`
pub(crate) async fn list_page(
    State(state): State<AppState>,
    who: AtWater,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    Ok(sent(list(&state, &who, said, None)))
}

/// Makes a notice, or takes one back.
pub(crate) async fn make(
    State(state): State<AppState>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let (service, water) = (&state.service, &who.view.watershed.slug);
    let of = form.text("form").to_owned();
    let outcome = match of.as_str() {
        "new" => match read::<NoticeInput>(form.document(&FIELDS, &[]).into()) {
            Ok(wish) => notice::create(service, water, &wish, &once(&who, &form, "notice")).await.map(|_| "told"),
            Err(faults) => Err(AppError::Faults(faults)),
        },
        "end" => {
            let id = path_uuid("notice", form.text("id"))?;
            notice::withdraw(service, water, id, |_| Ok(())).await.map(|()| "withdrawn")
        }
        _ => return Err(Problem::not_found("form")),
    };
    match outcome {
        Ok(word) => Ok(see_other(&saying(&at(&who.view, "/notices"), word))),
        Err(error) => {
            let refused = Refused::new(&of, form, error)?;
            Ok(answered(Some(&refused), list(&state, &who, Said(None), Some(&refused))))
        }
    }
}

/// `/desk/{w}/notices/{id}`
pub(crate) async fn notice_page(
    who: AtWater,
    Path((_, id)): Path<(String, String)>,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    let one = notice::find(&who.view, path_uuid("notice", &id)?, Audience::Members)?;
    Ok(sent(edit_page(&who, &one, said, None)?))
}

/// Changes a notice.
pub(crate) async fn change(
    State(state): State<AppState>,
    Path((_, id)): Path<(String, String)>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let id = path_uuid("notice", &id)?;
    let (service, water) = (&state.service, &who.view.watershed.slug);
    let (patch, version) = (form.document(&FIELDS, &[]).into(), form.text("version").to_owned());
    match notice::change(service, water, id, patch, held::<NoticeDocument>(version)).await {
        Ok(_) => Ok(see_other(&saying(&at(&who.view, "/notices"), "saved"))),
        Err(error) => {
            let refused = Refused::new("notice", form, error)?;
            // As it is stored now, which may be newer than what the form was made for.
            let who = AtWater { view: service.watershed(water)?, ..who };
            let one = notice::find(&who.view, id, Audience::Members)?;
            Ok(answered(Some(&refused), edit_page(&who, &one, Said(None), Some(&refused))?))
        }
    }
}

fn where_of(who: &AtWater, one: &Notice) -> String {
    let Some(slug) = &one.reach else { return "The whole water".to_owned() };
    let reach = who.view.reaches.iter().find(|reach| reach.slug == *slug);
    reach.map_or_else(|| slug.to_string(), |reach| reach.name.clone())
}

fn list(state: &AppState, who: &AtWater, said: Said, refused: Option<&Refused>) -> Markup {
    let zone = who.view.watershed.time_zone;
    let today = state.service.today(zone);
    let notices = notice::current(&state.service, &who.view, Audience::Members);
    let blank = NoticeInput { from_date: Some(today), until_date: Some(today), ..NoticeInput::default() };
    let fields = Fields::new("new", refused);
    let body = html! {
        p { "Shown on the pages of a reach, in calendars, in the news and in the weekly digest, on the days that you name." }
        h2 { "Tell something" }
        (fields.complaint(&FIELDS))
        form.filled method="post" action=(at(&who.view, "/notices")) {
            (hidden(who, "new", true))
            (drawn(who, fields, &blank))
            button.main type="submit" { "Tell it" }
        }
        h2 { "Told now and to come" }
        @if notices.is_empty() { p { "Nothing." } }
        @for one in &notices {
            section.report {
                h3 { a href=(at(&who.view, &format!("/notices/{}", one.id))) { (where_of(who, one)) ", " (days(one.from, one.until)) } }
                p.words { (one.words) }
                p.quiet {
                    @if one.from > today { "Still to come. " }
                    @match one.audience { Audience::Everyone => "For everyone.", Audience::Members => "For members." }
                }
                (end_button(who, &at(&who.view, "/notices"), "end", one.id, "Take it back", &where_of(who, one)))
            }
        }
    };
    page_at(who, "/notices", "Notices", said, &body)
}

fn edit_page(who: &AtWater, one: &Notice, said: Said, refused: Option<&Refused>) -> Result<Markup, Problem> {
    let fields = Fields::new("notice", refused);
    let version = version_of(&NoticeDocument::from(one))?;
    let body = html! {
        p { a href=(at(&who.view, "/notices")) { "All notices" } }
        h2 { (where_of(who, one)) ", " (days(one.from, one.until)) }
        p.quiet { "To end it early, set its last day to today, or take it back among all notices." }
        (fields.complaint(&FIELDS))
        form.filled method="post" action=(at(&who.view, &format!("/notices/{}", one.id))) {
            (mark(&who.signed))
            input type="hidden" name="version" value=(version);
            (drawn(who, fields, &NoticeInput::from(one)))
            button.main type="submit" { "Save" }
        }
    };
    Ok(page_at(who, "/notices", "Notice", said, &body))
}

fn drawn(who: &AtWater, fields: Fields<'_>, fresh: &NoticeInput) -> Markup {
    let mut reaches = vec![(String::new(), "The whole water".to_owned())];
    reaches.extend(who.view.reaches.iter().map(|reach| (reach.slug.to_string(), reach.name.clone())));
    let audiences = [("everyone", "Everyone"), ("members", "Members: who has a token or a secret address")];
    let audiences: Vec<(String, String)> = audiences.map(|(word, shown)| (word.to_owned(), shown.to_owned())).into();
    let date = |date: Option<NaiveDate>| date.map(|date| date.to_string()).unwrap_or_default();
    let said = |text: &Option<String>| text.clone().unwrap_or_default();
    html! {
        (fields.choice("reach", "Where", &said(&fresh.reach), "", &reaches))
        (fields.lines("text", "What you tell", &said(&fresh.text), "Plain text of at most 500 characters. No exact spots, no names."))
        div.pair {
            (fields.line("date", "from_date", "From", &date(fresh.from_date), ""))
            (fields.line("date", "until_date", "Last day", &date(fresh.until_date), ""))
        }
        (fields.choice("audience", "For whom", fresh.audience.as_deref().unwrap_or("everyone"), "", &audiences))
    }
}

/// Some days in words.
fn days(from: NaiveDate, until: NaiveDate) -> String {
    if from == until {
        return from.format("%-d %B %Y").to_string();
    }
    format!("{} to {}", from.format("%-d %B"), until.format("%-d %B %Y"))
}
