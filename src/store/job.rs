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
    retry_job,
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

/// A job of that kind and those arguments that is queued or running, if any: asking for the same
/// work twice need not queue it twice.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn find_active_job(
    tx: &mut Tx,
    watershed: &Slug,
    kind: &str,
    arguments_json: &str,
) -> Result<Option<Job>, StoreError> {
    const SQL: &str = SELECT!(
        "WHERE j.watershed_id = $1 AND j.kind = $2 AND j.arguments = $3 AND j.state IN ('queued', 'running') \
         ORDER BY j.sequence LIMIT 1"
    );
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.row("job", SQL, args![watershed_id, kind, arguments_json]).await?.as_ref().map(read_job).transpose()
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
