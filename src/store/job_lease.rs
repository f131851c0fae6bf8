//! Who works on a job, for how long, and how late writers are refused.

use chrono::{DateTime, TimeDelta, Utc};
use uuid::Uuid;

use super::arg::{Arg, args};
use super::job::find_job;
use super::{StoreError, Tx};
use crate::domain::job::{Job, Kinds};

/// A worker's hold on a job: the job and the fencing number of its claim.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lease {
    /// The job.
    pub job: Uuid,
    /// [`Job::fence`] as claimed.
    pub fence: i64,
}

impl Lease {
    /// The hold that came with claiming `job`.
    #[must_use]
    pub fn of(job: &Job) -> Self {
        Self { job: job.id, fence: job.fence }
    }
}

/// Takes the job waiting longest, or one whose lease ran out, until `now + lease`. Its fence and
/// attempts have grown by one. Workers do not wait for each other.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn claim_job(tx: &mut Tx, lease: TimeDelta, now: DateTime<Utc>) -> Result<Option<Job>, StoreError> {
    claim_job_of(tx, Kinds::All, lease, now).await
}

/// The same for jobs of `kinds`.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn claim_job_of(
    tx: &mut Tx,
    kinds: Kinds<'_>,
    lease: TimeDelta,
    now: DateTime<Utc>,
) -> Result<Option<Job>, StoreError> {
    let sql = tx.dialect().claim_job();
    let (only, but) = match kinds {
        Kinds::All => (None, None),
        Kinds::Only(kind) => (Some(kind), None),
        Kinds::AllBut(kind) => (None, Some(kind)),
    };
    match tx.row("job", sql, args![now, now + lease, only, but]).await? {
        Some(row) => find_job(tx, row.uuid("id")?).await,
        None => Ok(None),
    }
}

/// Extends a hold until `now + lease`.
///
/// # Errors
/// [`StoreError::LeaseLost`] when another took the job or it ended.
pub async fn heartbeat_job(tx: &mut Tx, held: Lease, lease: TimeDelta, now: DateTime<Utc>) -> Result<(), StoreError> {
    const SQL: &str = "UPDATE job SET lease_until_at = $3, updated_at = $4 \
        WHERE id = $1 AND fence = $2 AND state = 'running'";
    held_update(tx, held, SQL, args![now + lease, now]).await
}

/// Notes how far a job is.
///
/// # Errors
/// [`StoreError::LeaseLost`] when another took the job or it ended.
pub async fn progress_job(
    tx: &mut Tx,
    held: Lease,
    done: u32,
    total: u32,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    const SQL: &str = "UPDATE job SET done = $3, total = $4, updated_at = $5 \
        WHERE id = $1 AND fence = $2 AND state = 'running'";
    held_update(tx, held, SQL, args![done, total, now]).await
}

/// Ends a job: well with `Ok(result)`, for good badly with `Err(error)`, both JSON text. To be called
/// in the transaction that stores what the job made, so that a late worker stores nothing.
///
/// # Errors
/// [`StoreError::LeaseLost`] when another took the job or it ended.
pub async fn finish_job(
    tx: &mut Tx,
    held: Lease,
    outcome: Result<&str, &str>,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    const SQL: &str = "UPDATE job SET state = $3, result = $4, updated_at = $5, lease_until_at = NULL \
        WHERE id = $1 AND fence = $2 AND state = 'running'";
    let (state, result) = match outcome {
        Ok(result) => ("done", result),
        Err(error) => ("failed", error),
    };
    held_update(tx, held, SQL, args![state, result, now]).await
}

/// Stops a job that has not ended; false when it has. Whoever works on it loses the lease, and with it the
/// transaction in which [`finish_job`] would have been called.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn cancel_job(tx: &mut Tx, id: Uuid, now: DateTime<Utc>) -> Result<bool, StoreError> {
    const SQL: &str = "UPDATE job SET state = 'cancelled', result = NULL, updated_at = $2, lease_until_at = NULL \
        WHERE id = $1 AND state IN ('queued', 'running')";
    Ok(tx.execute(SQL, args![id, now]).await? > 0)
}

/// Settles jobs whose lease ran out: back into the queue, or failed when started `most_attempts`
/// times already. Returns how many.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn release_expired_jobs(tx: &mut Tx, most_attempts: u32, now: DateTime<Utc>) -> Result<u64, StoreError> {
    const SQL: &str = "UPDATE job SET lease_until_at = NULL, updated_at = $1, \
        state = CASE WHEN attempts >= $2 THEN 'failed' ELSE 'queued' END, \
        result = CASE WHEN attempts >= $2 THEN $3 ELSE result END \
        WHERE state = 'running' AND lease_until_at < $1";
    let gave_up = r#"{"code":"gave-up","detail":"the worker stopped too often"}"#;
    tx.execute(SQL, args![now, most_attempts, gave_up]).await
}

/// Changes a job that is held; `rest` are the values from $3 on.
async fn held_update(tx: &mut Tx, held: Lease, sql: &'static str, rest: Vec<Arg>) -> Result<(), StoreError> {
    let mut args = args![held.job, held.fence];
    args.extend(rest);
    match tx.execute(sql, args).await? {
        0 => Err(StoreError::LeaseLost { job: held.job }),
        _ => Ok(()),
    }
}
