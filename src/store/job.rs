//! The queue of long work. Leases are in `job_lease`.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::arg::args;
use super::keys::watershed_id;
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::Slug;
use crate::domain::job::{Job, JobState};

pub use super::job_lease::{
    Lease, cancel_job, claim_job, claim_job_of, finish_job, heartbeat_job, progress_job, release_expired_jobs,
};

/// What [`read_job`] reads, of job `j` and watershed `w`, and where from.
macro_rules! SELECT {
    ($rest:literal) => {
        concat!(
            "SELECT j.id, w.slug AS watershed, j.kind, j.arguments, j.state, j.done, j.total, j.result, j.attempts, ",
            "j.fence, j.created_at, j.updated_at, j.lease_until_at ",
            "FROM job j JOIN watershed w ON w.id = j.watershed_id ",
            $rest
        )
    };
}

/// Queues a job that may start from `now` on.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed; [`StoreError::Conflict`] for a known id.
pub async fn enqueue_job(
    tx: &mut Tx,
    id: Uuid,
    watershed: &Slug,
    kind: &str,
    arguments_json: &str,
    now: DateTime<Utc>,
) -> Result<Job, StoreError> {
    const SQL: &str = "INSERT INTO job (id, watershed_id, kind, arguments, state, done, total, attempts, fence, \
        created_at, updated_at, not_before_at) VALUES ($1, $2, $3, $4, 'queued', 0, 0, 0, 0, $5, $5, $5)";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.execute(SQL, args![id, watershed_id, kind, arguments_json, now]).await?;
    find_job(tx, id).await?.ok_or_else(|| StoreError::unknown("job", &id))
}

/// The job of that id, if any.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_job(tx: &mut Tx, id: Uuid) -> Result<Option<Job>, StoreError> {
    tx.row("job", SELECT!("WHERE j.id = $1"), args![id]).await?.as_ref().map(read_job).transpose()
}

/// The job of that kind and those arguments that waits longest, if any. Until the transaction ends no worker takes
/// it, so that who takes it reads what this transaction stores.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn hold_queued_job(
    tx: &mut Tx,
    watershed: &Slug,
    kind: &str,
    arguments_json: &str,
) -> Result<Option<Job>, StoreError> {
    let watershed_id = watershed_id(tx, watershed).await?;
    let sql = tx.dialect().hold_queued_job();
    match tx.row("job", sql, args![watershed_id, kind, arguments_json]).await? {
        Some(row) => find_job(tx, row.uuid("id")?).await,
        None => Ok(None),
    }
}

/// Up to `limit` jobs of a watershed, last queued first.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn jobs(tx: &mut Tx, watershed: &Slug, limit: u32) -> Result<Vec<Job>, StoreError> {
    const SQL: &str = SELECT!("WHERE j.watershed_id = $1 ORDER BY j.sequence DESC LIMIT $2");
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("job", SQL, args![watershed_id, limit]).await?.iter().map(read_job).collect()
}

/// Up to `limit` jobs of one kind, last queued first.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn jobs_of(tx: &mut Tx, watershed: &Slug, kind: &str, limit: u32) -> Result<Vec<Job>, StoreError> {
    const SQL: &str = SELECT!("WHERE j.watershed_id = $1 AND j.kind = $2 ORDER BY j.sequence DESC LIMIT $3");
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("job", SQL, args![watershed_id, kind, limit]).await?.iter().map(read_job).collect()
}

/// Drops jobs that ended before `since`, but for the newest of each kind of a watershed and those whose file waits to be
/// tidied away; tells how many.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn drop_ended_jobs(tx: &mut Tx, since: DateTime<Utc>) -> Result<u64, StoreError> {
    const SQL: &str = "DELETE FROM job WHERE state IN ('done', 'failed', 'cancelled') AND updated_at < $1 \
        AND sequence NOT IN (SELECT max(j.sequence) FROM job j GROUP BY j.watershed_id, j.kind) \
        AND id NOT IN (SELECT p.job_id FROM import_part p)";
    tx.execute(SQL, args![since]).await
}

fn read_job(row: &Row) -> Result<Job, StoreError> {
    Ok(Job {
        id: row.uuid("id")?,
        watershed: row.slug("watershed")?,
        kind: row.text("kind")?,
        arguments_json: row.text("arguments")?,
        state: row.word("state", JobState::parse)?,
        done: row.number("done")?,
        total: row.number("total")?,
        result_json: row.opt_text("result")?,
        attempts: row.number("attempts")?,
        fence: row.int("fence")?,
        created_at: row.instant("created_at")?,
        updated_at: row.instant("updated_at")?,
        lease_until: row.opt_instant("lease_until_at")?,
    })
}
