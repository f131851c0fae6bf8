//! Fits: asking for one, where it stands, what speaks against it.

use axum::body::Body;
use axum::extract::State;
use axum::http::Response;
use maud::{Markup, html};

use super::called::{by_slug, choices};
use super::form::{Fields, Refused};
use super::frame::{Said, answered, at, clock, mark, page_at, saying, see_other, sent};
use super::session::{AtWater, Sent};
use crate::app::document::{FitInput, read};
use crate::app::once::Once;
use crate::app::{AppError, jobs};
use crate::domain::Fit;
use crate::domain::job::{Job, JobState};
use crate::http::problem::Problem;
use crate::http::query::Query;
use crate::http::state::AppState;

/// Fit jobs listed.
const LISTED: u32 = 10;

/// `/desk/{w}/fits`
pub(crate) async fn fits_page(
    State(state): State<AppState>,
    who: AtWater,
    Query(said): Query<Said>,
) -> Result<Response<Body>, Problem> {
    Ok(sent(page(&state, &who, said, None).await?))
}

/// Queues a fit.
pub(crate) async fn request(
    State(state): State<AppState>,
    Sent { at: who, form }: Sent<AtWater>,
) -> Result<Response<Body>, Problem> {
    let wish = read::<FitInput>(form.document(&["taxon"], &[]).into());
    let queued = match wish {
        Ok(wish) => {
            // A fit that waits already is not queued twice: a key would add nothing.
            let (token_id, route) = (who.signed.token.id, "desk fit".to_owned());
            let once = Once { token_id, route, key: None, fingerprint: String::new() };
            jobs::request_fit(&state.service, &who.view.watershed.slug, &wish, &once).await
        }
        Err(faults) => Err(AppError::Faults(faults)),
    };
    match queued {
        Ok(_) => Ok(see_other(&saying(&at(&who.view, "/fits"), "fit"))),
        Err(error) => {
            let refused = Refused::new("fit", form, error)?;
            Ok(answered(Some(&refused), page(&state, &who, Said(None), Some(&refused)).await?))
        }
    }
}

async fn page(state: &AppState, who: &AtWater, said: Said, refused: Option<&Refused>) -> Result<Markup, Problem> {
    let slug = &who.view.watershed.slug;
    let fits = jobs::latest_fits(&state.service, slug).await?;
    let queue = jobs::latest(&state.service, slug, jobs::FIT, LISTED).await?;
    let progress = state.service.fitting(slug);
    let fields = Fields::new("fit", refused);
    let mut taxa = vec![(String::new(), "Every insect".to_owned())];
    taxa.extend(choices(&who.view));
    let body = html! {
        @if let Some(progress) = &progress {
            p {
                label for="progress" { "Fitting " (progress.done) " of " (progress.total) " insects" } " "
                progress id="progress" max=(progress.total) value=(progress.done) {}
            }
        }
        h2 { "Fit anew" }
        p.quiet { "Fits are made by themselves after reports and imports. Until a new one is done the old one is used." }
        (fields.complaint(&["taxon"]))
        form.filled method="post" action=(at(&who.view, "/fits")) {
            (mark(&who.signed))
            (fields.choice("taxon", "Insect", "", "", &taxa))
            button.main type="submit" { "Queue a fit" }
        }
        h2 { "Fits under way and done" }
        (queue_table(who, &queue))
        h2 { "What is in use" }
        (fits_table(who, &fits))
    };
    Ok(page_at(who, "/fits", "Fits", said, &body))
}

fn queue_table(who: &AtWater, queue: &[Job]) -> Markup {
    let zone = who.view.watershed.time_zone;
    let of = |job: &Job| {
        let arguments: Option<jobs::FitArguments> = serde_json::from_str(&job.arguments_json).ok();
        arguments
            .and_then(|arguments| arguments.taxon)
            .map_or_else(|| "every insect".to_owned(), |slug| by_slug(&who.view, &slug).to_string())
    };
    let state = |job: &Job| match job.state {
        JobState::Queued => "waits".to_owned(),
        JobState::Running if job.total > 0 => format!("under way, {} of {}", job.done, job.total),
        JobState::Running => "under way".to_owned(),
        JobState::Done => "done".to_owned(),
        JobState::Cancelled => "stopped".to_owned(),
        JobState::Failed => format!("failed: {}", job.result_json.as_deref().unwrap_or("nothing is known of why")),
    };
    html! {
        @if queue.is_empty() {
            p { "None yet." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="Fits under way and done" {
                table {
                    caption { "Newest first." }
                    thead { tr { th scope="col" { "Asked for" } th scope="col" { "Of" } th scope="col" { "State" } th scope="col" { "Last change" } } }
                    tbody {
                        @for job in queue {
                            tr {
                                th scope="row" { (clock(job.created_at, zone)) }
                                td { (of(job)) }
                                td { (state(job)) }
                                td { (clock(job.updated_at, zone)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn fits_table(who: &AtWater, fits: &[Fit]) -> Markup {
    let zone = who.view.watershed.time_zone;
    html! {
        @if fits.is_empty() {
            p { "Nothing is fitted yet." }
        } @else {
            div.scroll tabindex="0" role="region" aria-label="Fits in use" {
                table {
                    caption { "The latest fit of every insect and generation, with what speaks against it." }
                    thead {
                        tr {
                            th scope="col" { "Insect" } th scope="col" { "Made" } th scope="col" { "Records" }
                            th scope="col" { "Against the calendar" } th scope="col" { "Warnings" }
                        }
                    }
                    tbody {
                        @for fit in fits {
                            tr {
                                th scope="row" {
                                    (by_slug(&who.view, fit.taxon.as_str()))
                                    @if fit.brood > 1 { ", generation " (fit.brood) }
                                }
                                td { (clock(fit.created_at, zone)) }
                                td { (fit.records) " of " (fit.years) @if fit.years == 1 { " year" } @else { " years" } }
                                td { @if fit.beats_calendar { "better" } @else { "not better" } }
                                td {
                                    @if fit.prior_driven { "Too few records to leave the prior. " }
                                    @if fit.warnings.is_empty() && !fit.prior_driven { "None" }
                                    @for warning in &fit.warnings { p { (warning) "." } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}
