//! Imports: a table is sent, tried or stored by a job, and every row that was refused is named.

use axum::body::Body;
use axum::extract::{Path, State};
use axum::http::Response;
use maud::{Markup, html};

use super::form::{Fields, Form, Refused};
use super::frame::{Said, answered, at, clock, mark, page_at, saying, see_other, sent};
use super::outcome;
use super::session::{AtWater, Sent};
use super::table_form::SentTable;
use crate::app::document::{Faults, ImportDocument};
use crate::app::import_job::{FileOf, ImportArguments, request_import};
use crate::app::once::Once;
use crate::app::{AppError, jobs};
use crate::domain::Quantity;
use crate::domain::job::{Job, JobState};
use crate::http::api::imports::ImportQuery;
use crate::http::extract::path_uuid;
use crate::http::problem::Problem;
use crate::http::query::{Query, parse};
use crate::http::state::AppState;

/// Imports listed.
const LISTED: u32 = 30;
/// Fields that are shown, so that what is wrong with them is told there.
const SHOWN: [&str; 10] =
    ["table", "kind", "quantity", "dry_run", "mode", "separate_visits", "columns", "map", "licence", "citation"];

/// `/desk/{w}/imports`
pub(crate) async fn list_page(
    State(state): State<AppState>,
    who: AtWater,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    Ok(sent(page(&state, &who, said, None).await?))
}

/// Takes a table and queues its import.
pub(crate) async fn take(
    State(state): State<AppState>,
    SentTable { at: who, form, file }: SentTable,
) -> Result<Response<Body>, Problem> {
    let queued = match file {
        None => Err(Refused::faults("import", form, Faults::one("#/table", "missing", "must be chosen"))),
        Some((name, content, digest)) => match arguments(&who, &form, &name) {
            Err(faults) => Err(Refused::with("import", form, faults)),
            Ok(arguments) => {
                let once = Once {
                    token_id: who.signed.token.id,
                    route: "desk import".to_owned(),
                    key: Some(form.text("key").to_owned()).filter(|key| !key.is_empty()),
                    fingerprint: digest,
                };
                let slug = &who.view.watershed.slug;
                match request_import(&state.service, slug, &arguments, content, &once).await {
                    Ok(answer) => Ok(answer),
                    Err(error) => Err(Refused::new("import", form, at_the_table(error))?),
                }
            }
        },
    };
    match queued {
        Ok(answer) => {
            let id = answer.location.as_deref().and_then(|path| path.rsplit('/').next()).unwrap_or_default();
            Ok(see_other(&saying(&at(&who.view, &format!("/imports/{id}")), "sent")))
        }
        Err(refused) => Ok(answered(Some(&refused), page(&state, &who, Said(None), Some(&refused)).await?)),
    }
}

/// A fault of the file as a whole stands at its field.
fn at_the_table(error: AppError) -> AppError {
    match error {
        AppError::Faults(faults) => {
            let mut told = Faults::default();
            for fault in faults.into_vec() {
                let place = fault.pointer.filter(|place| place != "#").unwrap_or_else(|| "#/table".to_owned());
                told.add(place, fault.code, fault.detail);
            }
            AppError::Faults(told)
        }
        other => other,
    }
}

/// The fields as the query of `POST /v1/imports`, read and judged as there.
fn arguments(who: &AtWater, form: &Form, name: &str) -> Result<ImportArguments, Vec<crate::app::document::Fault>> {
    let mut pairs = vec![("watershed".to_owned(), who.view.watershed.slug.to_string())];
    for field in ["kind", "columns", "licence", "citation"] {
        let text = form.text(field);
        if !text.is_empty() {
            pairs.push((field.to_owned(), text.to_owned()));
        }
    }
    if form.text("kind") == "readings" {
        pairs.push(("quantity".to_owned(), form.text("quantity").to_owned()));
    }
    for row in form.text("map").lines().map(str::trim).filter(|row| !row.is_empty()) {
        pairs.push(("map".to_owned(), row.to_owned()));
    }
    for (field, yes) in [("dry_run", "true"), ("separate_visits", "true"), ("mode", "best_effort")] {
        if form.ticked(field) {
            pairs.push((field.to_owned(), yes.to_owned()));
        }
    }
    pairs.push(("file".to_owned(), name.to_owned()));
    let text = serde_html_form::to_string(&pairs).unwrap_or_default();
    let query = parse::<ImportQuery>(&text).map_err(Problem::into_faults)?;
    match query.checked() {
        Ok((_, arguments)) => Ok(arguments),
        Err(AppError::Query(faults) | AppError::Faults(faults)) => Err(faults.into_vec()),
        Err(other) => Err(Faults::one("#/table", "refused", other.to_string()).into_vec()),
    }
}

/// `/desk/{w}/imports/{id}`
pub(crate) async fn import_page(
    State(state): State<AppState>,
    who: AtWater,
    Path((_, id)): Path<(String, String)>,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    let job = jobs::find_import(&state.service, &who.signed.token, path_uuid("import", &id)?).await?;
    if job.watershed != who.view.watershed.slug {
        return Err(Problem::not_found("import"));
    }
    let zone = who.view.watershed.time_zone;
    let document: Option<ImportDocument> = job.result_json.as_ref().and_then(|text| serde_json::from_str(text).ok());
    let body = html! {
        p { a href=(at(&who.view, "/imports")) { "All imports" } }
        h2 { (name_of(&job)) }
        p.quiet { "Sent " (clock(job.created_at, zone)) "." }
        @match (job.state, &document) {
            (JobState::Queued | JobState::Running, _) => {
                p.lead { (state_of(&job)) }
                @if job.total > 0 {
                    p { label for="progress" { "Rows" } " " progress id="progress" max=(job.total) value=(job.done) {} }
                }
                p.buttons { a.act href=(at(&who.view, &format!("/imports/{}", job.id))) { "Look again" } }
                form method="post" action=(at(&who.view, &format!("/imports/{}/stop", job.id))) {
                    (mark(&who.signed))
                    button type="submit" { "Stop this import" }
                }
            }
            (JobState::Cancelled, _) => p.lead { (state_of(&job)) },
            (_, Some(document)) => (outcome::outcome(document)),
            (_, None) => p.banner { "The import failed: " (job.result_json.as_deref().unwrap_or("nothing is known of why")) },
        }
    };
    Ok(sent(page_at(&who, "/imports", "Import", said, &body)))
}

/// Stops an import that has not ended.
pub(crate) async fn stop(
    State(state): State<AppState>,
    Path((_, id)): Path<(String, String)>,
    Sent { at: who, .. }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let id = path_uuid("import", &id)?;
    let job = jobs::find_import(&state.service, &who.signed.token, id).await?;
    if job.watershed != who.view.watershed.slug {
        return Err(Problem::not_found("import"));
    }
    let said = match jobs::cancel_import(&state.service, &who.signed.token, id).await {
        Ok(_) => "stopped",
        Err(AppError::Conflict { .. }) => "over",
        Err(other) => return Err(other.into()),
    };
    Ok(see_other(&saying(&at(&who.view, &format!("/imports/{id}")), said)))
}

fn arguments_of(job: &Job) -> Option<ImportArguments> {
    serde_json::from_str(&job.arguments_json).ok()
}

fn name_of(job: &Job) -> String {
    arguments_of(job).map_or_else(|| "A file".to_owned(), |arguments| arguments.file)
}

/// Where an import stands, in words.
fn state_of(job: &Job) -> String {
    let document: Option<ImportDocument> = job.result_json.as_ref().and_then(|text| serde_json::from_str(text).ok());
    match (job.state, document) {
        (JobState::Queued, _) => "Waits for a worker.".to_owned(),
        (JobState::Running, _) if job.total > 0 => format!("Under way: {} of {} rows.", job.done, job.total),
        (JobState::Running, _) => "Under way: the file is read.".to_owned(),
        (JobState::Cancelled, _) => "Stopped; nothing was stored.".to_owned(),
        (_, Some(document)) => outcome::in_words(&document),
        (_, None) => "Failed.".to_owned(),
    }
}

async fn page(state: &AppState, who: &AtWater, said: Said, refused: Option<&Refused>) -> Result<Markup, Problem> {
    let imports = jobs::latest(&state.service, &who.view.watershed.slug, jobs::IMPORT, LISTED).await?;
    let zone = who.view.watershed.time_zone;
    let body = html! {
        h2 { "Import a table" }
        p {
            "CSV in UTF-8 with a header row, at most 50 MiB. A table that was sent before changes nothing. What the columns "
            "mean stands in " a href="/reference" { "the reference" } "."
        }
        (form_of(who, Fields::new("import", refused)))
        h2 { "Imports so far" }
        @if imports.is_empty() {
            p { "None yet." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="Imports" {
                table {
                    caption { "Newest first." }
                    thead { tr { th scope="col" { "File" } th scope="col" { "Sent" } th scope="col" { "What" } th scope="col" { "What came of it" } } }
                    tbody {
                        @for job in &imports {
                            tr {
                                th scope="row" { a href=(at(&who.view, &format!("/imports/{}", job.id))) { (name_of(job)) } }
                                td { (clock(job.created_at, zone)) }
                                td {
                                    @if let Some(arguments) = arguments_of(job) {
                                        (match arguments.of { FileOf::Readings => "readings", FileOf::Records => "records" })
                                        @if arguments.dry_run { ", a trial" }
                                    }
                                }
                                td { (state_of(job)) }
                            }
                        }
                    }
                }
            }
        }
    };
    Ok(page_at(who, "/imports", "Imports", said, &body))
}

fn form_of(who: &AtWater, fields: Fields<'_>) -> Markup {
    let kinds = [("records", "Records: visits, traps, first sightings"), ("readings", "Readings of a gauge")];
    let kinds = kinds.map(|(word, words)| (word.to_owned(), words.to_owned()));
    let quantities: Vec<(String, String)> =
        Quantity::WORDS.iter().map(|(_, word)| ((*word).to_owned(), word.replace('_', " "))).collect();
    html! {
        (fields.complaint(&SHOWN))
        form.filled method="post" action=(at(&who.view, "/imports")) enctype="multipart/form-data" {
            (mark(&who.signed))
            input type="hidden" name="key" value=(uuid::Uuid::new_v4());
            div.pair {
                (fields.choice("kind", "What it holds", "records", "", &kinds))
                (fields.choice("quantity", "Of readings: what they state", "water_temperature", "", &quantities))
            }
            (fields.tick("dry_run", "Try first: read and judge everything, store nothing", true))
            (fields.tick("mode", "Store the good rows when some are wrong", false))
            details open[fields.is_refused()] {
                summary { "When the table has other words than ours" }
                (fields.line("text", "columns", "Names of columns", "", "ours=theirs, with commas between: site=station,date_to=day"))
                (fields.lines("map", "Codes", "", "One a line: column,theirs,ours, such as abundance_class,A,sparse"))
                (fields.tick("separate_visits", "Rows that speak of the same record are visits of their own", false))
                (fields.line("text", "licence", "Licence of its records", "", "Under which they may be passed on, such as CC BY 4.0"))
                (fields.line("text", "citation", "How to cite its records", "", ""))
            }
            // The file stands last: what it is to be taken for is known before it comes.
            (fields.line("file", "table", "The table", "", ""))
            button.main type="submit" { "Send" }
        }
    }
}
