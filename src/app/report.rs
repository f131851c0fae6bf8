//! Field reports: filing, reading, editing and withdrawing.

use chrono::SubsecRound as _;
use serde_json::Value;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::digest::hex;
use super::document::fit::FitRequest;
use super::document::report_input::NewReport;
use super::document::{Faults, ReportDocument, ReportInput, merge, read};
use super::once::{Answer, Once, TWIN_AFTER_S};
use super::{AppError, Service, in_season, jobs};
use crate::domain::report::ReportAction;
use crate::domain::token::{Role, Token};
use crate::domain::{Report, ReportState, Slug};
use crate::store::idempotency::{Claim, forget_answers};
use crate::store::report::{
    Change, ReportFilter, find_report, insert_report, replace_report, report_revisions, report_withdrawn_at, reports,
    withdraw_report,
};
pub use crate::store::report::{Page, ReportCursor};
use crate::store::{StoreError, Tx, place, taxon};

/// Path of a report.
#[must_use]
pub fn location(id: Uuid) -> String {
    format!("/v1/reports/{id}")
}

/// Files a report under its own id and an Idempotency-Key. The report, the key and the wish for a
/// new fit are stored in one transaction: after a crash there is all of it or nothing.
///
/// The id decides first: a report that is stored already with the same content is answered as
/// stored, with other content it is a conflict, whatever the key. A key that comes back with a new
/// id and other content is refused.
///
/// # Errors
/// [`AppError::Forbidden`] for another watershed's token, all faults of unknown places and taxa,
/// [`AppError::Conflict`], [`AppError::KeyReused`].
pub async fn file(service: &Service, token: &Token, once: Once, new: NewReport) -> Result<Answer, AppError> {
    let now = service.now();
    let mut tx = service.db().write().await?;
    let faults = unknown_references(&mut tx, &new, service).await?;
    if !faults.is_empty() {
        return Err(AppError::Faults(faults));
    }
    if !token.watersheds.contains(&new.watershed) {
        return Err(AppError::Forbidden { detail: "The token is not bound to this watershed." });
    }
    let path = location(new.id);
    let stored = find_report(&mut tx, new.id).await?;
    let once = Once { fingerprint: fingerprint(&new)?, ..once };
    let again = |body| Ok(Answer { status: 200, body, location: Some(path.clone()), replayed: true });
    match (once.claim(&mut tx, now).await?, stored) {
        (Claim::Replay(answer), _) => return again(answer.body),
        (Claim::Running, _) => return Err(AppError::Twin { retry_after_s: TWIN_AFTER_S }),
        (_, Some(stored)) if stored.token_id == token.id && new.says_the_same_as(&stored) => {
            return again(to_json(&stored)?);
        }
        (_, Some(_)) => {
            return Err(AppError::Conflict { detail: "A report of this id is stored with other content.".to_owned() });
        }
        (Claim::OtherPayload, None) => return Err(AppError::KeyReused),
        (Claim::Fresh, None) => {}
    }
    if report_withdrawn_at(&mut tx, new.id).await?.is_some() {
        return Err(AppError::Conflict { detail: "The report of this id was withdrawn.".to_owned() });
    }
    // The store keeps microseconds; the answer and its entity tag must say what is stored.
    let report = new.into_report(ReportState::Accepted, now.trunc_subsecs(6), token.id, 1);
    insert_report(&mut tx, &report).await?;
    let answer = once.end(&mut tx, 201, &ReportDocument::from(&report), Some(path)).await?;
    jobs::enqueue_fit(&mut tx, &report.watershed, &FitRequest::default(), now).await?;
    tx.commit().await?;
    in_season::publish_soon(service, &report.watershed, in_season::spoken_of(&report));
    Ok(answer)
}

/// Faults for every place and taxon that is not known, and for a visit in the future.
async fn unknown_references(tx: &mut Tx, new: &NewReport, service: &Service) -> Result<Faults, AppError> {
    let mut faults = Faults::default();
    if new.ended_at > service.latest_visit_end() {
        faults.add("#/ended_at", "in_the_future", "lies in the future");
    }
    if place::find_watershed(tx, &new.watershed).await?.is_none() {
        faults.add("#/watershed", "unknown_slug", "is not a known watershed");
        return Ok(faults);
    }
    if place::find_reach(tx, &new.watershed, &new.reach).await?.is_none() {
        faults.add("#/reach", "unknown_slug", "is not a reach of this watershed");
    }
    let looked_for = new.looked_for.iter().flatten().enumerate().map(|(i, slug)| (format!("#/looked_for/{i}"), slug));
    let seen = new
        .sightings
        .iter()
        .enumerate()
        .filter_map(|(i, sighting)| Some((format!("#/sightings/{i}/taxon"), sighting.taxon.as_ref()?)));
    for (pointer, slug) in looked_for.chain(seen) {
        if taxon::find_taxon(tx, slug).await?.is_none() {
            faults.add(pointer, "unknown_slug", "is not a known taxon");
        }
    }
    Ok(faults)
}

/// Digest of what the report says, however its JSON was written.
fn fingerprint(new: &NewReport) -> Result<String, AppError> {
    let said = new.clone().into_report(ReportState::New, chrono::DateTime::UNIX_EPOCH, Uuid::nil(), 0);
    let text = serde_json::to_vec(&ReportInput::from(&said)).map_err(|error| AppError::Internal(error.to_string()))?;
    Ok(hex(&Sha256::digest(text)))
}

fn to_json(report: &Report) -> Result<String, AppError> {
    serde_json::to_string(&ReportDocument::from(report)).map_err(|error| AppError::Internal(error.to_string()))
}

/// The report of that id, if `token` sent it or keeps its watershed.
///
/// # Errors
/// [`AppError::NotFound`], the same for what is not there and what is not to be seen.
pub async fn find(service: &Service, token: &Token, id: Uuid) -> Result<Report, AppError> {
    visible(&mut service.db().read().await?, token, id).await
}

pub(super) async fn visible(tx: &mut Tx, token: &Token, id: Uuid) -> Result<Report, AppError> {
    find_report(tx, id)
        .await?
        .filter(|report| report.token_id == token.id || keeps(token, &report.watershed))
        .ok_or_else(|| AppError::not_found("report"))
}

pub(super) fn keeps(token: &Token, watershed: &Slug) -> bool {
    token.role == Role::Keeper && token.watersheds.contains(watershed)
}

/// Accepted reports of a watershed, newest visit first, at most `limit`.
///
/// # Errors
/// [`AppError::Store`].
pub async fn accepted(service: &Service, watershed: &Slug, page: Page, limit: u32) -> Result<Vec<Report>, AppError> {
    let filter = ReportFilter {
        watershed: Some(watershed.clone()),
        state: Some(ReportState::Accepted),
        ..ReportFilter::default()
    };
    Ok(reports(&mut service.db().read().await?, &filter, page, limit).await?)
}

/// Where a report stands in the order of lists, withdrawn ones included: a list can be paged
/// through while reports leave it.
///
/// # Errors
/// [`AppError::NotFound`] when there never was one of that id.
pub async fn place_of(service: &Service, id: Uuid) -> Result<ReportCursor, AppError> {
    let mut tx = service.db().read().await?;
    if let Some(report) = find_report(&mut tx, id).await? {
        return Ok(ReportCursor::of(&report));
    }
    let last = report_revisions(&mut tx, id).await?.pop().ok_or_else(|| AppError::not_found("report"))?;
    let document: Value =
        serde_json::from_str(&last.document_json).map_err(|error| AppError::Internal(error.to_string()))?;
    let started_at = document["started_at"]
        .as_str()
        .and_then(super::document::time::instant)
        .ok_or_else(|| AppError::Internal("a filed report has no start".to_owned()))?;
    Ok(ReportCursor { started_at, id })
}

/// Changes what a report says. An edit by a member puts a report that a keeper had questioned or
/// refused before the keepers again.
///
/// # Errors
/// [`AppError::NotFound`], what `approve` refuses, all faults of the changed report.
pub async fn edit(
    service: &Service,
    token: &Token,
    id: Uuid,
    patch: Value,
    approve: impl FnOnce(&ReportDocument) -> Result<(), AppError>,
) -> Result<Report, AppError> {
    let now = service.now();
    let mut tx = service.db().write().await?;
    let stored = visible(&mut tx, token, id).await?;
    approve(&ReportDocument::from(&stored))?;
    let changed = edited(&stored, patch)?;
    let faults = unknown_references(&mut tx, &changed, service).await?;
    if !faults.is_empty() {
        return Err(AppError::Faults(faults));
    }
    if changed.says_the_same_as(&stored) {
        return Ok(stored);
    }
    let state = match stored.state {
        ReportState::NeedsInfo | ReportState::Rejected if !keeps(token, &stored.watershed) => ReportState::New,
        state => state,
    };
    let mut report = changed.into_report(state, stored.received_at, stored.token_id, stored.version);
    let change = Change { by: token.id, at: now, reason: None, action: ReportAction::Edit };
    report.version = replace_report(&mut tx, &report, change).await.map_err(overtaken)?;
    // What is out of use is so before and after: an edit puts no report into use.
    let counts = stored.state == ReportState::Accepted;
    if counts {
        jobs::enqueue_fit(&mut tx, &report.watershed, &FitRequest::default(), now).await?;
    }
    tx.commit().await?;
    if counts {
        let both = in_season::spoken_of(&stored).zip(in_season::spoken_of(&report));
        let taxa = both.map(|(before, now)| before.into_iter().chain(now).collect());
        in_season::publish_soon(service, &report.watershed, taxa);
    }
    Ok(report)
}

/// What a failure to change a report means: somebody else may have changed it between our reading and our writing.
pub(super) fn overtaken(error: StoreError) -> AppError {
    match error {
        StoreError::Conflict { .. } => AppError::PreconditionFailed,
        StoreError::UnknownReference { what: "report", .. } => AppError::not_found("report"),
        other => other.into(),
    }
}

fn edited(stored: &Report, patch: Value) -> Result<NewReport, AppError> {
    let Value::Object(members) = &patch else {
        return Err(AppError::fault("#", "wrong_type", "must be a JSON object"));
    };
    let mut faults = Faults::default();
    let mut value =
        serde_json::to_value(ReportInput::from(stored)).map_err(|error| AppError::Internal(error.to_string()))?;
    for fixed in ["id", "watershed"] {
        if members.get(fixed).is_some_and(|new| *new != value[fixed]) {
            faults.add(format!("#/{fixed}"), "immutable", "cannot be changed");
        }
    }
    merge(&mut value, patch);
    match read::<ReportInput>(value) {
        Ok(changed) if faults.is_empty() => Ok(changed),
        Ok(_) => Err(AppError::Faults(faults)),
        Err(others) => {
            for fault in others.into_vec() {
                faults.add(fault.pointer.unwrap_or_else(|| "#".to_owned()), fault.code, fault.detail);
            }
            Err(AppError::Faults(faults))
        }
    }
}

/// Withdraws a report: it leaves every list and the models; its id stays taken.
///
/// # Errors
/// [`AppError::NotFound`], what `approve` refuses.
pub async fn withdraw(
    service: &Service,
    token: &Token,
    id: Uuid,
    approve: impl FnOnce(&ReportDocument) -> Result<(), AppError>,
) -> Result<(), AppError> {
    let now = service.now();
    let mut tx = service.db().write().await?;
    let stored = visible(&mut tx, token, id).await?;
    approve(&ReportDocument::from(&stored))?;
    let change = Change { by: token.id, at: now, reason: None, action: ReportAction::Withdrawal };
    withdraw_report(&mut tx, id, stored.version, change).await.map_err(overtaken)?;
    // The answer to its filing repeats what it said, note and all.
    forget_answers(&mut tx, &location(id)).await?;
    let counted = stored.state == ReportState::Accepted;
    if counted {
        jobs::enqueue_fit(&mut tx, &stored.watershed, &FitRequest::default(), now).await?;
    }
    tx.commit().await?;
    if counted {
        in_season::publish_soon(service, &stored.watershed, in_season::spoken_of(&stored));
    }
    Ok(())
}
