//! Members' reports: what waits, what became of each, deciding.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::header::{CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::http::{HeaderValue, Response};
use maud::{Markup, html};

use super::called::by_slug;
use super::form::{Fields, Refused};
use super::frame::{Said, answered, at, clock, mark, page_at, saying, see_other, sent};
use super::naming;
use super::session::{AtWater, Sent};
use crate::app::document::{DecisionInput, ModerationDocument, read};
use crate::app::moderation::{self, Sought};
use crate::app::{AppError, WatershedView, photo, report};
use crate::domain::ReportState;
use crate::http::extract::path_uuid;
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, QueryReader};
use crate::http::respond::PRIVATE;
use crate::http::state::AppState;

/// Reports on a page.
const ON_PAGE: usize = 20;

/// The lists: the word in the address, the name, and what is sought.
const LISTS: [(&str, &str, Sought); 5] = [
    ("waiting", "Waiting for you", Sought { state: None, waiting: true }),
    ("accepted", "In use", Sought { state: Some(ReportState::Accepted), waiting: false }),
    ("questioned", "Questioned", Sought { state: Some(ReportState::NeedsInfo), waiting: false }),
    ("aside", "Set aside", Sought { state: Some(ReportState::Rejected), waiting: false }),
    ("all", "All", Sought { state: None, waiting: false }),
];

/// Which list, and from where on.
#[derive(Debug, Clone)]
pub(crate) struct ListQuery {
    list: usize,
    after: Option<uuid::Uuid>,
    said: Said,
}

impl FromQuery for ListQuery {
    fn read(reader: &mut QueryReader) -> Self {
        let words: Vec<&str> = LISTS.iter().map(|(word, _, _)| *word).collect();
        let rule = format!("must be one of {}", words.join(", "));
        let list = reader.parsed("list", rule, |text| words.iter().position(|word| *word == text));
        let after = reader.parsed("after", "must be the id of a report", |text| uuid::Uuid::try_parse(text).ok());
        Self { list: list.unwrap_or(0), after, said: Said::take(reader) }
    }
}

/// `/desk/{w}`
pub(crate) async fn list_page(
    State(state): State<AppState>,
    who: AtWater,
    Query(query): Query<ListQuery>,
) -> Result<Response<Body>, Problem> {
    let (word, name, sought) = LISTS[query.list];
    let place = match query.after {
        None => report::Page::First,
        Some(id) => report::Page::After(report::place_of(&state.service, id).await?),
    };
    let view = &who.view;
    let most = u32::try_from(ON_PAGE + 1).unwrap_or(u32::MAX);
    let mut found = moderation::list(&state.service, &view.watershed.slug, sought, place, most).await?;
    let more = found.len() > ON_PAGE;
    found.truncate(ON_PAGE);
    let last = found.last().filter(|_| more).map(|told| told.report.id);
    let body = html! {
        p.filters {
            @for (index, (word, name, _)) in LISTS.iter().enumerate() {
                a href=(format!("{}?list={word}", at(view, ""))) aria-current=[(index == query.list).then_some("true")] { (name) }
            }
        }
        h2 { (name) }
        @if word == "waiting" {
            p.quiet {
                "Reports count as soon as they come. Here stand those that no keeper has looked at since they last changed, "
                "and those that were questioned."
            }
        }
        @if found.is_empty() { p { "Nothing here." } }
        @for told in &found {
            section.report {
                h3 { a href=(address(view, told)) { (heading(view, told)) } }
                (summary(view, told))
            }
        }
        @if let Some(id) = last { p.pages { a href=(format!("{}?list={word}&after={id}", at(view, ""))) { "Older reports" } } }
    };
    Ok(sent(page_at(&who, "", "Reports", query.said, &body)))
}

/// `/desk/{w}/reports/{id}`
pub(crate) async fn report_page(
    State(state): State<AppState>,
    who: AtWater,
    Path((_, id)): Path<(String, String)>,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    let told = find(&state, &who, &id).await?;
    Ok(sent(one(&who, &told, said, None)))
}

/// The report of that id, if it is of this water.
async fn find(state: &AppState, who: &AtWater, id: &str) -> Result<ModerationDocument, Problem> {
    let told = moderation::find(&state.service, &who.signed.token, path_uuid("report", id)?).await?;
    if told.report.watershed == who.view.watershed.slug.to_string() {
        Ok(told)
    } else {
        Err(Problem::not_found("report"))
    }
}

/// Decides, takes the last decision back, or names an insect that its sender could not.
pub(crate) async fn decide(
    State(state): State<AppState>,
    Path((_, id)): Path<(String, String)>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let before = find(&state, &who, &id).await?;
    let (id, token) = (before.report.id, &who.signed.token);
    let version = form.text("version").to_owned();
    // The form holds to the version it was made for, as If-Match does.
    let approve = |stored: &crate::app::document::ReportDocument| {
        if stored.version.to_string() == version { Ok(()) } else { Err(AppError::PreconditionFailed) }
    };
    let (of, outcome) = if form.ticked("photo") {
        ("photo", photo::remove(&state.service, token, id).await.map(|()| "saved"))
    } else if form.ticked("undo") {
        ("undo", moderation::take_back(&state.service, token, id, approve).await.map(|_| "undone"))
    } else if form.ticked("name") {
        let patch = naming::patch(&before.report, &form)?;
        let edited = match patch {
            Ok(patch) => report::edit(&state.service, token, id, patch, approve).await,
            Err(fault) => Err(fault),
        };
        ("name", edited.map(|_| "named"))
    } else {
        let wish = read::<DecisionInput>(form.document(&["state", "reason"], &[]).into());
        let decided = match wish {
            Ok(decision) => moderation::decide(&state.service, token, id, &decision, approve).await,
            Err(faults) => Err(AppError::Faults(faults)),
        };
        ("decision", decided.map(|report| report.state.as_str()))
    };
    match outcome {
        Ok(word) => Ok(see_other(&saying(&address(&who.view, &before), word))),
        Err(error) => {
            let refused = Refused::new(of, form, error)?;
            let now = find(&state, &who, &id.to_string()).await?;
            Ok(answered(Some(&refused), one(&who, &now, Said(None), Some(&refused))))
        }
    }
}

/// `/desk/{w}/reports/{id}/photo.jpg`: what came with the report, for its keepers.
pub(crate) async fn photo_file(
    State(state): State<AppState>,
    who: AtWater,
    Path((_, id)): Path<(String, String)>,
) -> Result<Response<Body>, Problem> {
    let told = find(&state, &who, &id).await?;
    let photo = photo::look(&state.service, &who.signed.token, told.report.id).await?;
    let mut response = Response::new(Body::from(photo.jpeg));
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("image/jpeg"));
    headers.insert(CACHE_CONTROL, HeaderValue::from_static(PRIVATE));
    // Opened by itself it is a file to keep, never a page of this origin.
    headers.insert(CONTENT_DISPOSITION, HeaderValue::from_static("attachment; filename=\"photo.jpg\""));
    Ok(response)
}

fn address(view: &WatershedView, told: &ModerationDocument) -> String {
    at(view, &format!("/reports/{}", told.report.id))
}

fn heading(view: &WatershedView, told: &ModerationDocument) -> String {
    let report = &told.report;
    let reach = view.reaches.iter().find(|reach| reach.slug.to_string() == report.reach);
    let reach = reach.map_or(report.reach.as_str(), |reach| &reach.name);
    format!("{reach}, {}", clock(report.started_at, view.watershed.time_zone))
}

/// A state in the words of the desk.
fn state_words(state: &str) -> &'static str {
    match state {
        "new" => "waits for a keeper",
        "accepted" => "in use",
        "needs_info" => "questioned, not in use",
        _ => "set aside, not in use",
    }
}

fn summary(view: &WatershedView, told: &ModerationDocument) -> Markup {
    let (report, zone) = (&told.report, view.watershed.time_zone);
    html! {
        p.quiet {
            "From " (told.sender) ", " (state_words(report.state)) ". Until "
            (report.ended_at.with_timezone(&zone).format("%H:%M")) ", " (report.people)
            @if report.people == 1 { " person" } @else { " people" }
            @if let Some(water) = report.water_c { ", water " (view.watershed.units.temperature(water, 1)) }
            @if let Some(sky) = &report.sky { ", sky: " (sky) }
            "."
        }
        @if report.sightings.is_empty() {
            p { "Nothing seen." }
        } @else {
            ul {
                @for seen in &report.sightings {
                    li {
                        @match (&seen.taxon, &seen.described) {
                            (Some(slug), _) => (by_slug(view, slug)),
                            (None, Some(described)) => { "unnamed, " (format!("{}", described.length_mm)) " mm, " (described.colour) },
                            (None, None) => { "unnamed" }
                        }
                        ", " (seen.stage)
                        @if let Some(class) = seen.abundance_class { ", " (class) }
                        @if let Some(count) = seen.count { ", " (count) " counted" }
                        @if let Some(pads) = seen.wing_pads { ", " (pads) " wing pads" }
                        @if let Some(behaviour) = &seen.behaviour { ", " (behaviour) }
                    }
                }
            }
        }
        @if let Some(taxa) = &report.looked_for {
            p.quiet { "Looked for these alone: " (taxa.iter().map(|slug| by_slug(view, slug).to_string()).collect::<Vec<_>>().join(", ")) "." }
        }
        @if told.has_photo { p.quiet { "With a photo." } }
        @if let Some(note) = &report.note { p.words { "\u{201c}" (note) "\u{201d}" } }
    }
}

fn one(who: &AtWater, told: &ModerationDocument, said: Said, refused: Option<&Refused>) -> Markup {
    let view = &who.view;
    let states: Vec<(String, String)> = [
        ("", "Choose"),
        ("accepted", "Accept: models use it, everyone sees it without hours, people and notes"),
        ("needs_info", "Ask its sender: not used until it is mended"),
        ("rejected", "Set aside: not used and not shown"),
    ]
    .into_iter()
    .map(|(word, shown)| (word.to_owned(), shown.to_owned()))
    .collect();
    let (fields, undo) = (Fields::new("decision", refused), Fields::new("undo", refused));
    let action = address(view, told);
    let version = told.report.version;
    let body = html! {
        p { a href=(at(view, "")) { "All reports" } }
        h2 { (heading(view, told)) }
        (summary(view, told))
        @if told.has_photo {
            p { img.photo src=(format!("{action}/photo.jpg")) alt="What its sender photographed"; }
            form method="post" action=(action) {
                (mark(&who.signed))
                p { button type="submit" name="photo" value="remove" { "Remove the photo for good" } }
            }
        }
        (naming::forms(who, told, &action, Fields::new("name", refused)))
        h2 { "Decide" }
        (fields.complaint(&["state", "reason"]))
        form.filled method="post" action=(action) {
            (mark(&who.signed))
            input type="hidden" name="version" value=(version);
            (fields.choice("state", "Decision", "", "", &states))
            (fields.lines("reason", "Why", "", "Needed to set aside or to ask. Its sender reads it in the report form; it stays in the history."))
            button.main type="submit" { "Decide" }
        }
        @if let Some(before) = told.undo_to {
            (undo.complaint(&[]))
            form method="post" action=(action) {
                (mark(&who.signed))
                input type="hidden" name="version" value=(version);
                p { button type="submit" name="undo" value="yes" { "Take the last decision back (then: " (state_words(before)) ")" } }
            }
        }
        h2 { "What happened to it" }
        (history(view, told))
    };
    page_at(who, "", "Report", said, &body)
}

fn history(view: &WatershedView, told: &ModerationDocument) -> Markup {
    let act = |action: &str| match action {
        "filed" => "filed",
        "edit" => "changed",
        "decision" => "decided",
        "undo" => "decision taken back",
        _ => "withdrawn",
    };
    html! {
        div.scroll tabindex="0" role="region" aria-label="What happened to this report" {
            table {
                caption { "First its filing. Times are those of clocks at the water." }
                thead { tr { th scope="col" { "When" } th scope="col" { "Who" } th scope="col" { "What" } th scope="col" { "Why" } } }
                tbody {
                    @for one in &told.history {
                        tr {
                            th scope="row" { (clock(one.at, view.watershed.time_zone)) }
                            td { (one.by) }
                            td {
                                (act(one.action)) ": "
                                @if let Some(from) = one.from.filter(|from| *from != one.to) { (state_words(from)) " \u{2192} " }
                                (state_words(one.to))
                            }
                            td { (one.reason.as_deref().unwrap_or("\u{2013}")) }
                        }
                    }
                }
            }
        }
    }
}
