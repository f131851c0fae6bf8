//! Work on jobs: claiming them from the table, running them, keeping and ending their leases.

use chrono::{NaiveDate, TimeDelta};
use serde::Deserialize;

use crate::clock::Clock;
use crate::domain::Slug;
use crate::domain::error::chain;
use crate::domain::job::{Job, JobState, Kinds};
use crate::store::job::{Lease, claim_job_of, find_job, finish_job, heartbeat_job, progress_job, release_expired_jobs};
use crate::store::skill::skills;
use crate::store::{Db, StoreError, Tx};

use super::fit::{FitRequest, fit_watershed};
use super::import_job::run_import;
use super::jobs::{FIT, IMPORT, PUBLISH, SKILL, SYNC, SyncArguments, enqueue_skill};
use super::publish_season::publish_season;
use super::skill::compute_skill;
use super::sync::{Sources, Wanted, sync};

/// Seconds that a claim holds without a heartbeat.
pub const LEASE_S: u32 = 30;
const LEASE: TimeDelta = TimeDelta::seconds(LEASE_S as i64);
/// Age from which a watershed's skill is computed anew after a fit.
const SKILL_AFTER: TimeDelta = TimeDelta::hours(24);
/// A job whose worker died this often is given up.
const MOST_ATTEMPTS: u32 = 3;

/// Takes the job that waits longest, of kind `only` where one is named; frees those whose worker died.
///
/// # Errors
/// [`StoreError`] when the table cannot be read or written.
pub async fn claim(db: &Db, clock: &dyn Clock, kinds: Kinds<'_>) -> Result<Option<Job>, StoreError> {
    let mut tx = db.write().await?;
    release_expired_jobs(&mut tx, MOST_ATTEMPTS, clock.now()).await?;
    let job = claim_job_of(&mut tx, kinds, LEASE, clock.now()).await?;
    tx.commit().await?;
    Ok(job)
}

/// Prolongs the hold on `job`.
///
/// # Errors
/// [`StoreError`], also when another worker has taken the job meanwhile.
pub async fn keep(db: &Db, clock: &dyn Clock, job: &Job) -> Result<(), StoreError> {
    let mut tx = db.write().await?;
    heartbeat_job(&mut tx, Lease::of(job), LEASE, clock.now()).await?;
    tx.commit().await
}

/// Stores how `job` ended, result or error as JSON text, unless its own work has done so.
///
/// # Errors
/// [`StoreError`], also when another worker has taken the job meanwhile.
pub async fn finish(db: &Db, clock: &dyn Clock, job: &Job, outcome: &Result<String, String>) -> Result<(), StoreError> {
    let mut tx = db.write().await?;
    let stored = outcome.as_ref().map(String::as_str).map_err(String::as_str);
    match finish_job(&mut tx, Lease::of(job), stored, clock.now()).await {
        Err(StoreError::LeaseLost { .. }) if has_ended(&mut tx, job, outcome.is_ok()).await? => Ok(()),
        Err(error) => Err(error),
        Ok(()) => tx.commit().await,
    }
}

/// True when `job` was cancelled, or ended well under the claim that it was worked on if its work ended `well`.
async fn has_ended(tx: &mut Tx, job: &Job, well: bool) -> Result<bool, StoreError> {
    let stored = find_job(tx, job.id).await?.filter(|stored| stored.fence == job.fence);
    Ok(stored.is_some_and(|stored| match stored.state {
        JobState::Done => well,
        JobState::Cancelled => true,
        JobState::Queued | JobState::Running | JobState::Failed => false,
    }))
}

/// True when somebody cancelled `job`.
///
/// # Errors
/// [`StoreError`] when the table cannot be read.
pub async fn is_cancelled(db: &Db, job: &Job) -> Result<bool, StoreError> {
    let stored = find_job(&mut db.read().await?, job.id).await?;
    Ok(stored.is_some_and(|stored| stored.state == JobState::Cancelled))
}

/// Runs `job`; result or error as JSON text. `today` is the civil date that forecasts are published
/// for, the clock's own when `None`; `sources` are asked where the job fetches.
///
/// # Errors
/// The failure as JSON text with `code` and `detail`.
pub async fn execute(
    db: &Db,
    clock: &dyn Clock,
    job: &Job,
    today: Option<NaiveDate>,
    sources: Option<&Sources>,
) -> Result<String, String> {
    match job.kind.as_str() {
        FIT => run_fit(db, clock, job, today).await,
        PUBLISH => {
            let published = run_publish(db, clock, job, &[], today).await?;
            Ok(serde_json::json!({ "forecasts": published }).to_string())
        }
        SKILL => run_skill(db, clock, job).await,
        SYNC => run_sync(db, clock, job, sources).await,
        IMPORT => run_import(db, clock, job).await.map_err(|e| error_json("import-failed", &chain(&e))),
        other => Err(error_json("unknown-job", &format!("no worker knows jobs of kind {other}"))),
    }
}

/// Arguments of the job `fit`.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Arguments {
    #[serde(default)]
    taxon: Option<String>,
    #[serde(default)]
    through: Option<NaiveDate>,
}

async fn run_fit(db: &Db, clock: &dyn Clock, job: &Job, today: Option<NaiveDate>) -> Result<String, String> {
    let arguments: Arguments = serde_json::from_str(&job.arguments_json)
        .map_err(|e| error_json("bad-arguments", &format!("the job's arguments cannot be read: {e}")))?;
    let taxon = arguments
        .taxon
        .map(|text| Slug::new(&text))
        .transpose()
        .map_err(|e| error_json("bad-arguments", &e.to_string()))?;
    let request = FitRequest { watershed: job.watershed.clone(), taxon: taxon.clone(), through: arguments.through };
    let outcomes =
        fit_watershed(db, clock, &request, &|_| {}).await.map_err(|e| error_json("fit-failed", &chain(&e)))?;
    let now = clock.now();
    let total = outcomes.len() as u32;
    let told = async {
        let mut tx = db.write().await?;
        progress_job(&mut tx, Lease::of(job), total, total, now).await?;
        tx.commit().await
    };
    told.await.map_err(|e| error_json("database", &chain(&e)))?;
    let published = run_publish(db, clock, job, taxon.as_slice(), today).await?;
    let scored = async {
        let mut tx = db.write().await?;
        let last = skills(&mut tx, &job.watershed).await?.iter().map(|s| s.computed_at).min();
        // Years left out do not change with every report; once a day is enough.
        if last.is_none_or(|last| clock.now() - last >= SKILL_AFTER) {
            enqueue_skill(&mut tx, &job.watershed, clock.now()).await?;
        }
        tx.commit().await
    };
    scored.await.map_err(|e| error_json("database", &chain(&e)))?;
    let fitted: Vec<serde_json::Value> = outcomes
        .iter()
        .map(|o| {
            serde_json::json!({
                "taxon": o.taxon.as_str(),
                "brood": o.brood,
                "fit": o.fit.as_ref().map(|f| f.id),
                "prior_driven": o.fit.as_ref().is_some_and(|f| f.prior_driven),
            })
        })
        .collect();
    Ok(serde_json::json!({ "fitted": fitted, "forecasts": published }).to_string())
}

/// Publishes `only` (everything when empty) for `today`; returns the number of forecasts.
async fn run_publish(
    db: &Db,
    clock: &dyn Clock,
    job: &Job,
    only: &[Slug],
    today: Option<NaiveDate>,
) -> Result<usize, String> {
    let zone = watershed_zone(db, &job.watershed).await?;
    let today = today.unwrap_or_else(|| clock.now().with_timezone(&zone).date_naive());
    let published = publish_season(db, clock, &job.watershed, only, today)
        .await
        .map_err(|e| error_json("publish-failed", &chain(&e)))?;
    Ok(published.len())
}

async fn run_skill(db: &Db, clock: &dyn Clock, job: &Job) -> Result<String, String> {
    let document = compute_skill(db, clock, &job.watershed, None, &|_, _, _| {})
        .await
        .map_err(|e| error_json("skill-failed", &chain(&e)))?;
    Ok(serde_json::json!({ "rows": document.rows.len() }).to_string())
}

/// Fetches. A gauge that failed makes the job fail, with the whole story; what came of others is stored.
async fn run_sync(db: &Db, clock: &dyn Clock, job: &Job, sources: Option<&Sources>) -> Result<String, String> {
    let sources = sources.ok_or_else(|| error_json("no-sources", "this process asks no open services"))?;
    let arguments: SyncArguments = serde_json::from_str(&job.arguments_json)
        .map_err(|e| error_json("bad-arguments", &format!("the job's arguments cannot be read: {e}")))?;
    let gauge = arguments.gauge.map(|text| Slug::new(&text)).transpose();
    let gauge = gauge.map_err(|e| error_json("bad-arguments", &e.to_string()))?;
    let wanted = Wanted { watershed: Some(job.watershed.clone()), gauge };
    let done = sync(db, clock, sources, &wanted, &|_| {}).await.map_err(|e| error_json("sync-failed", &chain(&e)))?;
    if done.failed == 0 {
        return serde_json::to_string(&done).map_err(|e| error_json("sync-failed", &e.to_string()));
    }
    let told: Vec<String> =
        done.gauges.iter().filter_map(|gauge| Some(format!("{}: {}", gauge.gauge, gauge.reason.as_deref()?))).collect();
    Err(serde_json::json!({ "code": "sync-failed", "detail": told.join("; "), "sync": done }).to_string())
}

async fn watershed_zone(db: &Db, slug: &Slug) -> Result<chrono_tz::Tz, String> {
    let found = async {
        let mut tx = db.read().await?;
        crate::store::place::find_watershed(&mut tx, slug).await
    };
    match found.await {
        Ok(Some(watershed)) => Ok(watershed.time_zone),
        Ok(None) => Err(error_json("no-watershed", "the watershed is gone")),
        Err(e) => Err(error_json("database", &chain(&e))),
    }
}

/// An error as stored with a job.
fn error_json(code: &str, detail: &str) -> String {
    serde_json::json!({ "code": code, "detail": detail }).to_string()
}
