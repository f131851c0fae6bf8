//! Asking for long work.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::document::fit::FitRequest;
use super::{AppError, Service};
use crate::domain::job::{Job, JobState};
use crate::domain::token::{Role, Token};
use crate::domain::{Fit, Slug};
use crate::store::{StoreError, Tx, fit, job};

/// Kind of the job that fits a watershed and publishes its forecasts.
pub const FIT: &str = "fit";
/// Kind of the job that scores the forecasts of a watershed with years left out.
pub const SKILL: &str = "skill";
/// Queued jobs looked through for one that does the same.
const LOOKED_THROUGH: u32 = 100;

/// Arguments of a [`FIT`] job.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FitArguments {
    /// Only this taxon; absent means all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taxon: Option<String>,
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
    let waiting = job::jobs(tx, watershed, LOOKED_THROUGH).await?.into_iter().find(|job| {
        job.state == JobState::Queued
            && job.kind == FIT
            && (job.arguments_json == wanted || job.arguments_json == everything)
    });
    match waiting {
        Some(job) => Ok(job),
        None => Ok(job::enqueue_job(tx, Uuid::now_v7(), watershed, FIT, &wanted, now).await?),
    }
}

/// Queues the scoring of `watershed` with years left out unless one is waiting already.
///
/// # Errors
/// [`StoreError`], for example for an unknown watershed.
pub async fn enqueue_skill(tx: &mut Tx, watershed: &Slug, now: DateTime<Utc>) -> Result<(), StoreError> {
    let jobs = job::jobs(tx, watershed, LOOKED_THROUGH).await?;
    if !jobs.iter().any(|job| job.state == JobState::Queued && job.kind == SKILL) {
        job::enqueue_job(tx, Uuid::now_v7(), watershed, SKILL, "{}", now).await?;
    }
    Ok(())
}

/// Queues a fit in a transaction of its own.
///
/// # Errors
/// One fault for an unknown taxon; [`AppError::Store`].
pub async fn request_fit(service: &Service, watershed: &Slug, request: &FitRequest) -> Result<Job, AppError> {
    let view = service.watershed(watershed)?;
    if let Some(taxon) = &request.taxon
        && !view.taxa.iter().any(|resident| resident.slug == *taxon)
    {
        return Err(AppError::fault("#/taxon", "unknown_slug", "is not a taxon of this watershed"));
    }
    let mut tx = service.db().write().await?;
    let job = enqueue_fit(&mut tx, watershed, request, service.now()).await?;
    tx.commit().await?;
    Ok(job)
}

/// The latest fit of every taxon and brood of a watershed.
///
/// # Errors
/// [`AppError::Store`].
pub async fn latest_fits(service: &Service, watershed: &Slug) -> Result<Vec<Fit>, AppError> {
    Ok(fit::latest_fits(&mut service.db().read().await?, watershed).await?)
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

fn to_json(arguments: &FitArguments) -> Result<String, AppError> {
    serde_json::to_string(arguments).map_err(|error| AppError::Internal(format!("job arguments: {error}")))
}
