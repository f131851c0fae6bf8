//! What keepers decide on reports, what happened to each, and taking a decision back.

use std::collections::HashMap;

use chrono::{DateTime, Utc};
use serde_json::Value;
use uuid::Uuid;

use super::document::fit::FitRequest;
use super::document::report_input::Decision;
use super::document::{ModerationDocument, ReportChangeDocument, ReportDocument};
use super::report::{keeps, overtaken, visible};
use super::{AppError, Service, in_season, jobs};
use crate::domain::report::ReportAction;
use crate::domain::token::Token;
use crate::domain::{Report, ReportState, Slug};
use crate::store::Tx;
use crate::store::report::{
    Change, Page, ReportFilter, Revision, replace_report, report_revisions, reports, revisions_of, waiting_reports,
};
use crate::store::report_photo::with_photo;
use crate::store::token::token_names;

/// Which reports of a watershed a keeper asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Sought {
    /// In this state alone.
    pub state: Option<ReportState>,
    /// Only those that wait for a keeper: new, questioned, or accepted as they came and not looked at since.
    pub waiting: bool,
}

/// Reports of a watershed in every state, newest visit first, at most `limit`, with what happened to each.
///
/// # Errors
/// [`AppError::Store`].
pub async fn list(
    service: &Service,
    watershed: &Slug,
    sought: Sought,
    page: Page,
    limit: u32,
) -> Result<Vec<ModerationDocument>, AppError> {
    let filter = ReportFilter {
        watershed: Some(watershed.clone()),
        state: sought.state,
        waiting: sought.waiting,
        ..ReportFilter::default()
    };
    let mut tx = service.db().read().await?;
    let found = reports(&mut tx, &filter, page, limit).await?;
    let ids: Vec<Uuid> = found.iter().map(|report| report.id).collect();
    let mut revisions = revisions_of(&mut tx, &ids).await?;
    let told: Vec<(Report, Vec<Happened>)> = found
        .into_iter()
        .map(|report| {
            let happened = history(&report, revisions.remove(&report.id).unwrap_or_default())?;
            Ok((report, happened))
        })
        .collect::<Result<_, AppError>>()?;
    named(&mut tx, &told).await
}

/// A report with what a keeper said who asked for more or set it aside.
pub type Told = (Report, Option<String>);

/// The reports that `token` sent, newest visit first, at most `limit`, each with what its sender is told of it.
///
/// # Errors
/// [`AppError::Store`].
pub async fn sent_by(service: &Service, token: &Token, page: Page, limit: u32) -> Result<Vec<Told>, AppError> {
    let filter = ReportFilter { token_id: Some(token.id), ..ReportFilter::default() };
    let mut tx = service.db().read().await?;
    let found = reports(&mut tx, &filter, page, limit).await?;
    let ids: Vec<Uuid> = found.iter().map(|report| report.id).collect();
    let mut revisions = revisions_of(&mut tx, &ids).await?;
    found
        .into_iter()
        .map(|report| {
            let happened = history(&report, revisions.remove(&report.id).unwrap_or_default())?;
            let reason = asked(&report, &happened);
            Ok((report, reason))
        })
        .collect()
}

/// What the keeper said whose decision holds, where it keeps the report out of use.
fn asked(report: &Report, happened: &[Happened]) -> Option<String> {
    if !matches!(report.state, ReportState::NeedsInfo | ReportState::Rejected) {
        return None;
    }
    let made_it_so = |one: &&Happened| one.action == Some(ReportAction::Decision) && one.to == report.state;
    happened.iter().rev().find(made_it_so)?.reason.clone()
}

/// How many reports of a watershed wait for a keeper.
///
/// # Errors
/// [`AppError::Store`].
pub async fn waiting(service: &Service, watershed: &Slug) -> Result<u64, AppError> {
    Ok(waiting_reports(&mut service.db().read().await?, watershed).await?)
}

/// One report with what happened to it, for a keeper of its watershed.
///
/// # Errors
/// [`AppError::NotFound`], [`AppError::Forbidden`] for its sender.
pub async fn find(service: &Service, token: &Token, id: Uuid) -> Result<ModerationDocument, AppError> {
    let mut tx = service.db().read().await?;
    let (report, happened) = for_keeper(&mut tx, token, id).await?;
    let mut documents = named(&mut tx, &[(report, happened)]).await?;
    documents.pop().ok_or_else(|| AppError::not_found("report"))
}

/// Decides on a report as a keeper of its watershed. The same decision again changes nothing.
///
/// # Errors
/// [`AppError::NotFound`], [`AppError::Forbidden`] when the caller does not keep its watershed, what `approve` refuses.
pub async fn decide(
    service: &Service,
    token: &Token,
    id: Uuid,
    decision: &Decision,
    approve: impl FnOnce(&ReportDocument) -> Result<(), AppError>,
) -> Result<Report, AppError> {
    let mut tx = service.db().write().await?;
    let (report, happened) = for_keeper(&mut tx, token, id).await?;
    let settled = |last: &Happened| {
        last.action == Some(ReportAction::Decision) && last.to == decision.state && last.reason == decision.reason
    };
    if happened.last().is_some_and(settled) {
        return Ok(report);
    }
    approve(&ReportDocument::from(&report))?;
    let reason = decision.reason.as_deref();
    let change = Change { by: token.id, at: service.now(), reason, action: ReportAction::Decision };
    put(service, tx, report, decision.state, change).await
}

/// Takes the last decision on a report back: it stands again where it stood before. What it says stays, whoever has
/// changed that since.
///
/// # Errors
/// As [`decide`]; [`AppError::Conflict`] when no decision holds.
pub async fn take_back(
    service: &Service,
    token: &Token,
    id: Uuid,
    approve: impl FnOnce(&ReportDocument) -> Result<(), AppError>,
) -> Result<Report, AppError> {
    let mut tx = service.db().write().await?;
    let (report, happened) = for_keeper(&mut tx, token, id).await?;
    approve(&ReportDocument::from(&report))?;
    let Some(before) = undo_to(&happened) else {
        let detail = "There is no decision to take back: none was made, or it was taken back or overtaken.".to_owned();
        return Err(AppError::Conflict { detail });
    };
    let change = Change { by: token.id, at: service.now(), reason: None, action: ReportAction::Undo };
    put(service, tx, report, before, change).await
}

/// Stores the new state; models and pages follow where it counts for them.
async fn put(
    service: &Service,
    mut tx: Tx,
    mut report: Report,
    state: ReportState,
    change: Change<'_>,
) -> Result<Report, AppError> {
    let moves = (report.state == ReportState::Accepted) != (state == ReportState::Accepted);
    report.state = state;
    report.version = replace_report(&mut tx, &report, change).await.map_err(overtaken)?;
    if moves {
        jobs::enqueue_fit(&mut tx, &report.watershed, &FitRequest::default(), change.at).await?;
    }
    tx.commit().await?;
    if moves {
        in_season::publish_soon(service, &report.watershed, in_season::spoken_of(&report));
    }
    Ok(report)
}

async fn for_keeper(tx: &mut Tx, token: &Token, id: Uuid) -> Result<(Report, Vec<Happened>), AppError> {
    let report = visible(tx, token, id).await?;
    if !keeps(token, &report.watershed) {
        return Err(AppError::Forbidden { detail: "A keeper's token is needed." });
    }
    let revisions = report_revisions(tx, id).await?;
    let happened = history(&report, revisions)?;
    Ok((report, happened))
}

/// One thing that happened to a report; no action stands for its filing.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Happened {
    action: Option<ReportAction>,
    at: DateTime<Utc>,
    by: Uuid,
    from: Option<ReportState>,
    to: ReportState,
    reason: Option<String>,
}

/// What happened to `report`, first its filing.
fn history(report: &Report, revisions: Vec<Revision>) -> Result<Vec<Happened>, AppError> {
    let mut states = revisions.iter().map(state_of).collect::<Result<Vec<_>, _>>()?;
    states.push(report.state);
    let filed =
        Happened { action: None, at: report.received_at, by: report.token_id, from: None, to: states[0], reason: None };
    let changes = revisions.into_iter().zip(states.windows(2)).map(|(revision, states)| {
        let (from, to) = (states[0], states[1]);
        // Earlier versions of the program did not say what kind of change it was.
        let by_sender = revision.changed_by == report.token_id;
        let old = if from == to || by_sender { ReportAction::Edit } else { ReportAction::Decision };
        Happened {
            action: Some(revision.action.unwrap_or(old)),
            at: revision.changed_at,
            by: revision.changed_by,
            from: Some(from),
            to,
            reason: revision.reason,
        }
    });
    Ok(std::iter::once(filed).chain(changes).collect())
}

fn state_of(revision: &Revision) -> Result<ReportState, AppError> {
    let said: Option<Value> = serde_json::from_str(&revision.document_json).ok();
    let word = said.as_ref().and_then(|said| said["state"].as_str());
    let state = word.and_then(|word| ReportState::parse(word).ok());
    state.ok_or_else(|| AppError::Internal("a stored version of a report has no state".to_owned()))
}

/// Where taking back the last decision leads: only while nothing but edits of what the report says came after it.
fn undo_to(happened: &[Happened]) -> Option<ReportState> {
    let unsettling = |one: &&Happened| one.action != Some(ReportAction::Edit) || one.from != Some(one.to);
    let last = happened.iter().rev().find(unsettling)?;
    if last.action == Some(ReportAction::Decision) { last.from } else { None }
}

/// Documents of reports, with the names of the tokens.
async fn named(tx: &mut Tx, told: &[(Report, Vec<Happened>)]) -> Result<Vec<ModerationDocument>, AppError> {
    let mut ids: Vec<Uuid> = told.iter().flat_map(|(_, happened)| happened.iter().map(|one| one.by)).collect();
    ids.sort_unstable();
    ids.dedup();
    let reports: Vec<Uuid> = told.iter().map(|(report, _)| report.id).collect();
    let photos = with_photo(tx, &reports).await?;
    let names: HashMap<Uuid, String> = token_names(tx, &ids).await?;
    let name = |id: &Uuid| names.get(id).cloned().unwrap_or_default();
    Ok(told
        .iter()
        .map(|(report, happened)| ModerationDocument {
            report: ReportDocument::from(report),
            sender: name(&report.token_id),
            has_photo: photos.contains(&report.id),
            undo_to: undo_to(happened).map(ReportState::as_str),
            history: happened
                .iter()
                .map(|one| ReportChangeDocument {
                    action: one.action.map_or("filed", ReportAction::as_str),
                    at: one.at,
                    by: name(&one.by),
                    from: one.from.map(ReportState::as_str),
                    to: one.to.as_str(),
                    reason: one.reason.clone(),
                })
                .collect(),
        })
        .collect())
}
