//! What nobody can ask for any more leaves the database, a little at a time, so that it does not grow without bound.

use chrono::{DateTime, TimeDelta, Utc};

use super::AppError;
use crate::store::Db;
use crate::store::feed::drop_withdrawn_events;
use crate::store::fit::drop_replaced_fits;
use crate::store::idempotency::{KEPT_DAYS, purge_idempotency};
use crate::store::import_part::tidy_parts;
use crate::store::job::drop_ended_jobs;

/// A fit that took another's place is so old before the other goes: publications and hindcasts that read that one have
/// ended by then.
const FIT_SETTLED: TimeDelta = TimeDelta::days(1);
/// Fits dropped in one transaction: each is some hundred kilobytes, and others want to write.
const FITS_AT_ONCE: u32 = 100;
/// Days that an ended job can be asked for; the answers that named it are kept as long.
const JOB_DAYS: i64 = KEPT_DAYS;
/// Days that a withdrawn entry of a calendar is remembered. Feeds show it for a month; it could come back with a higher
/// sequence number while its season is published, which lasts a year at most.
const ENTRY_DAYS: i64 = 400;

/// How many rows went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tidied {
    /// Fits that newer ones have replaced.
    pub fits: u64,
    /// Jobs that have ended.
    pub jobs: u64,
    /// Answers to requests.
    pub answers: u64,
    /// Withdrawn entries of calendars.
    pub entries: u64,
}

/// Drops what is over by `now`. Each kind goes in transactions of its own; what is gone stays gone if a later one fails.
///
/// # Errors
/// [`AppError::Store`].
pub async fn tidy(db: &Db, now: DateTime<Utc>) -> Result<Tidied, AppError> {
    let mut tidied = Tidied::default();
    loop {
        let mut tx = db.write().await?;
        let dropped = drop_replaced_fits(&mut tx, now - FIT_SETTLED, FITS_AT_ONCE).await?;
        tx.commit().await?;
        tidied.fits += dropped;
        if dropped < u64::from(FITS_AT_ONCE) {
            break;
        }
    }
    let mut tx = db.write().await?;
    tidy_parts(&mut tx).await?;
    tidied.jobs = drop_ended_jobs(&mut tx, now - TimeDelta::days(JOB_DAYS)).await?;
    tidied.answers = purge_idempotency(&mut tx, now).await?;
    tidied.entries = drop_withdrawn_events(&mut tx, now - TimeDelta::days(ENTRY_DAYS)).await?;
    tx.commit().await?;
    // Notes of withdrawn reports may stand in what went.
    db.fold_log().await?;
    Ok(tidied)
}
