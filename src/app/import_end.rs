//! How an import ends: kept, undone after a trial, or together with the job whose work it is.

use super::AppError;
use super::document::ImportDocument;
use super::document::fit::FitRequest;
use super::jobs::{enqueue_fit, enqueue_publish};
use crate::clock::Clock;
use crate::domain::job::Job;
use crate::store::job::{Lease, finish_job, progress_job};
use crate::store::{Counts, Db, Tx, import_part};

/// Most flagged readings, and most doubtful records, in the result of a job.
const LISTED_IN_JOB: usize = 1000;

/// Whose work an import is.
#[derive(Clone, Copy)]
pub enum By<'a> {
    /// Whoever waits for it, and is told how many of so many rows are stored.
    Caller(&'a (dyn Fn(u64, u64) + Sync)),
    /// A job, which ends in the transaction that stores what it made.
    Job(&'a Job),
}

impl std::fmt::Debug for By<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(if matches!(self, Self::Job(_)) { "By::Job" } else { "By::Caller" })
    }
}

impl By<'_> {
    /// Nobody is told.
    pub(super) const SILENT: By<'static> = By::Caller(&|_, _| ());

    /// Tells how many of so many rows are stored. Where one transaction writes at a time this can only be told
    /// before (`storing` is false) and after.
    pub(super) async fn tell(
        self,
        db: &Db,
        clock: &dyn Clock,
        (done, total): (u64, u64),
        storing: bool,
    ) -> Result<(), AppError> {
        let job = match self {
            Self::Caller(told) => {
                told(done, total);
                return Ok(());
            }
            Self::Job(job) => job,
        };
        if storing && !db.has_many_writers() {
            return Ok(());
        }
        let mut tx = db.write().await?;
        progress_job(&mut tx, Lease::of(job), done as u32, total as u32, clock.now()).await?;
        Ok(tx.commit().await?)
    }

    /// Counts what was written and keeps it, or undoes it after a trial. What a job stored is fitted or published
    /// next.
    pub(super) async fn finish(
        self,
        mut tx: Tx,
        document: &mut ImportDocument,
        counts: Counts,
        clock: &dyn Clock,
    ) -> Result<(), AppError> {
        if let Self::Job(job) = self
            && !document.dry_run
        {
            count(document, counts);
            let now = clock.now();
            if document.created + document.updated > 0 {
                if document.kind == "records" {
                    enqueue_fit(&mut tx, &job.watershed, &FitRequest::default(), now).await?;
                } else {
                    enqueue_publish(&mut tx, &job.watershed, now).await?;
                }
            }
            let total = document.total as u32;
            progress_job(&mut tx, Lease::of(job), total, total, now).await?;
            finish_job(&mut tx, Lease::of(job), Ok(&as_result(document)?), now).await?;
            import_part::tidy_parts(&mut tx).await?;
            return Ok(tx.commit().await?);
        }
        finish(tx, document, counts).await
    }
}

fn count(document: &mut ImportDocument, counts: Counts) {
    document.created = counts.created;
    document.updated = counts.updated;
    document.unchanged += counts.unchanged;
}

/// Counts what was written and keeps it, or undoes it after a trial.
pub(super) async fn finish(tx: Tx, document: &mut ImportDocument, counts: Counts) -> Result<(), AppError> {
    count(document, counts);
    if document.dry_run {
        // Dropping the transaction rolls it back.
        drop(tx);
        return Ok(());
    }
    Ok(tx.commit().await?)
}

/// The result of a job as JSON text.
pub(super) fn as_result(document: &ImportDocument) -> Result<String, AppError> {
    let mut document = document.clone();
    document.flagged.truncate(LISTED_IN_JOB);
    document.doubtful.truncate(LISTED_IN_JOB);
    serde_json::to_string(&document).map_err(|error| AppError::Internal(format!("result of an import: {error}")))
}
