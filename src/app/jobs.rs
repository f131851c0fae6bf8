//! Asking for long work.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::document::JobDocument;
use super::document::fit::FitRequest;
use super::once::{Answer, Once};
use super::{AppError, Service};
use crate::domain::job::Job;
use crate::domain::source::Source;
use crate::domain::token::{Role, Token};
use crate::domain::{Fit, Gauge, Slug};
use crate::store::{StoreError, Tx, fit, import_part, job};

/// Kind of the job that fits a watershed and publishes its forecasts.
pub const FIT: &str = "fit";
/// Kind of the job that publishes the forecasts of a watershed anew from its stored fits.
pub const PUBLISH: &str = "publish";
/// Kind of the job that scores the forecasts of a watershed with years left out.
pub const SKILL: &str = "skill";
/// Kind of the job that fetches readings from the sources of a watershed's gauges.
pub const SYNC: &str = "sync";
/// Kind of the job that imports a file that was sent.
pub const IMPORT: &str = "import";
/// Arguments of a job that has none.
const NONE: &str = "{}";

/// Arguments of a [`FIT`] job.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FitArguments {
    /// Only this taxon; absent means all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taxon: Option<String>,
}

/// Arguments of a [`SYNC`] job.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct SyncArguments {
    /// Only this gauge; absent means all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge: Option<String>,
}

/// Queues a fit of `watershed` unless a waiting one covers it; a running one may have read its
/// data already and does not count. Returns the job that will do it.
///
/// # Errors
/// [`AppError::Store`], for example for an unknown watershed.
pub async fn enqueue_fit(
    tx: &mut Tx,
    watershed: &Slug,
    request: &FitRequest,
    now: DateTime<Utc>,
) -> Result<Job, AppError> {
    let arguments = FitArguments { taxon: request.taxon.as_ref().map(Slug::key) };
    let wanted = to_json(&arguments)?;
    let everything = to_json(&FitArguments::default())?;
    let covers = [(FIT, &*everything), (FIT, &*wanted)];
    Ok(ensure(tx, watershed, &covers, (FIT, &wanted), now).await?)
}

/// Queues the scoring of `watershed` with years left out unless one is waiting already.
///
/// # Errors
/// [`StoreError`], for example for an unknown watershed.
pub async fn enqueue_skill(tx: &mut Tx, watershed: &Slug, now: DateTime<Utc>) -> Result<(), StoreError> {
    ensure(tx, watershed, &[(SKILL, NONE)], (SKILL, NONE), now).await.map(drop)
}

/// Queues a publication of `watershed` unless one is waiting already, or a fit of everything, which
/// publishes too.
///
/// # Errors
/// [`AppError::Store`], for example for an unknown watershed.
pub async fn enqueue_publish(tx: &mut Tx, watershed: &Slug, now: DateTime<Utc>) -> Result<(), AppError> {
    let everything = to_json(&FitArguments::default())?;
    ensure(tx, watershed, &[(FIT, &*everything), (PUBLISH, NONE)], (PUBLISH, NONE), now).await?;
    Ok(())
}

/// Queues fetching for one gauge of `watershed`, or all, unless a waiting job does it. Returns the job
/// that will.
///
/// # Errors
/// [`AppError::Store`], for example for an unknown watershed.
pub async fn enqueue_sync(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: Option<&Slug>,
    now: DateTime<Utc>,
) -> Result<Job, AppError> {
    let wanted = to_json(&SyncArguments { gauge: gauge.map(Slug::key) })?;
    let everything = to_json(&SyncArguments::default())?;
    let covers = [(SYNC, &*everything), (SYNC, &*wanted)];
    Ok(ensure(tx, watershed, &covers, (SYNC, &wanted), now).await?)
}

/// Queues fetching for `gauge` in a transaction of its own.
///
/// # Errors
/// [`AppError::Conflict`] when the gauge names no source that can be asked, [`AppError::Store`].
pub async fn request_sync(service: &Service, watershed: &Slug, gauge: &Gauge) -> Result<Job, AppError> {
    match gauge.source.as_deref().map(Source::parse) {
        Some(Ok(Some(_))) => {}
        Some(Err(fault)) => return Err(AppError::Conflict { detail: format!("The gauge's {fault}.") }),
        _ => {
            let detail = "The gauge names no source that can be asked, for example usgs:USGS-01420500.".to_owned();
            return Err(AppError::Conflict { detail });
        }
    }
    let mut tx = service.db().write().await?;
    let job = enqueue_sync(&mut tx, watershed, Some(&gauge.slug), service.now()).await?;
    tx.commit().await?;
    Ok(job)
}

/// A job of `watershed` that waits and is one of `covers`, kinds with their arguments as JSON text; else `wanted`,
/// queued. It starts after this transaction has ended, and so reads what that stores.
async fn ensure(
    tx: &mut Tx,
    watershed: &Slug,
    covers: &[(&str, &str)],
    wanted: (&str, &str),
    now: DateTime<Utc>,
) -> Result<Job, StoreError> {
    for (kind, arguments) in covers {
        if let Some(job) = job::hold_queued_job(tx, watershed, kind, arguments).await? {
            return Ok(job);
        }
    }
    job::enqueue_job(tx, Uuid::now_v7(), watershed, wanted.0, wanted.1, now).await
}

/// Queues a fit in a transaction of its own.
///
/// # Errors
/// One fault for an unknown taxon; [`AppError::Store`].
pub async fn request_fit(
    service: &Service,
    watershed: &Slug,
    request: &FitRequest,
    once: &Once,
) -> Result<Answer, AppError> {
    let view = service.watershed(watershed)?;
    if let Some(taxon) = &request.taxon
        && !view.taxa.iter().any(|resident| resident.slug == *taxon)
    {
        return Err(AppError::fault("#/taxon", "unknown_slug", "is not a taxon of this watershed"));
    }
    let (mut tx, now) = (service.db().write().await?, service.now());
    if let Some(answer) = once.begin(&mut tx, now).await? {
        return Ok(answer);
    }
    let job = enqueue_fit(&mut tx, watershed, request, now).await?;
    let answer = once.end(&mut tx, 202, &JobDocument::from(&job), Some(format!("/v1/jobs/{}", job.id))).await?;
    tx.commit().await?;
    Ok(answer)
}

/// The latest fit of every taxon and brood of a watershed.
///
/// # Errors
/// [`AppError::Store`].
pub async fn latest_fits(service: &Service, watershed: &Slug) -> Result<Vec<Fit>, AppError> {
    Ok(fit::latest_fits(&mut service.db().read().await?, watershed).await?)
}

/// Up to `limit` jobs of one kind, last queued first.
///
/// # Errors
/// [`AppError::Store`].
pub async fn latest(service: &Service, watershed: &Slug, kind: &str, limit: u32) -> Result<Vec<Job>, AppError> {
    Ok(job::jobs_of(&mut service.db().read().await?, watershed, kind, limit).await?)
}

/// The job of that id, if `token` may see it.
///
/// # Errors
/// [`AppError::NotFound`] for members, other watersheds' keepers and unknown ids alike.
pub async fn find(service: &Service, token: &Token, id: Uuid) -> Result<Job, AppError> {
    let mut tx = service.db().read().await?;
    job::find_job(&mut tx, id)
        .await?
        .filter(|job| token.role == Role::Keeper && token.watersheds.contains(&job.watershed))
        .ok_or_else(|| AppError::not_found("job"))
}

/// The same for a job that imports.
///
/// # Errors
/// As [`find`], for other jobs too.
pub async fn find_import(service: &Service, token: &Token, id: Uuid) -> Result<Job, AppError> {
    let found = find(service, token, id).await.map_err(|error| match error {
        AppError::NotFound { .. } => AppError::not_found("import"),
        other => other,
    })?;
    if found.kind == IMPORT { Ok(found) } else { Err(AppError::not_found("import")) }
}

/// Stops an import that has not ended: what it read is dropped, and nothing of it is stored.
///
/// # Errors
/// As [`find_import`]; [`AppError::Conflict`] when it has ended; [`AppError::Store`], busy while a database of one writer
/// stores the rows of this or another import.
pub async fn cancel_import(service: &Service, token: &Token, id: Uuid) -> Result<Job, AppError> {
    find_import(service, token, id).await?;
    let mut tx = service.db().write().await?;
    if !job::cancel_job(&mut tx, id, service.now()).await? {
        return Err(AppError::Conflict { detail: "The import has ended; what it stored stays.".to_owned() });
    }
    import_part::tidy_parts(&mut tx).await?;
    let cancelled = job::find_job(&mut tx, id).await?.ok_or_else(|| AppError::not_found("import"))?;
    tx.commit().await?;
    Ok(cancelled)
}

fn to_json(arguments: &impl Serialize) -> Result<String, AppError> {
    serde_json::to_string(arguments).map_err(|error| AppError::Internal(format!("job arguments: {error}")))
}
