//! The loop of one worker.

use std::sync::Arc;
use std::time::Duration;

use chrono::NaiveDate;
use tokio::sync::watch;
use tokio::time::Instant;

use crate::app::sync::Sources;
use crate::app::{Db, StoreError, work};
use crate::clock::Clock;
use crate::domain::Slug;
use crate::domain::job::{Job, Kinds};

/// How long a claim holds by itself.
const LEASE: Duration = Duration::from_secs(work::LEASE_S as u64);
/// How often a claim is prolonged, well within its lease.
const HEARTBEAT: Duration = Duration::from_secs(10);
/// Pause when there is nothing to do.
const IDLE: Duration = Duration::from_millis(500);
/// Pause after the database failed.
const AFTER_FAULT: Duration = Duration::from_secs(5);

/// Told when a watershed's published forecasts have changed.
pub type Notify = Arc<dyn Fn(Slug) + Send + Sync>;

/// One worker.
#[derive(Clone)]
pub struct Runner {
    /// The database.
    pub db: Db,
    /// The clock of jobs.
    pub clock: Arc<dyn Clock>,
    /// The civil date that forecasts are published for when it is not the clock's (demo).
    pub today: Option<NaiveDate>,
    /// Asked by jobs that fetch; such jobs fail without.
    pub sources: Option<Sources>,
    /// Which jobs it takes.
    pub kinds: Kinds<'static>,
    /// Called after forecasts were published.
    pub notify: Notify,
}

impl std::fmt::Debug for Runner {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Runner").field("clock", &self.clock).field("today", &self.today).finish_non_exhaustive()
    }
}

impl Runner {
    /// Works until `stop` turns true. A job in hand is given back to the table when its lease ends.
    pub async fn run(&self, mut stop: watch::Receiver<bool>) {
        while !*stop.borrow() {
            let pause = match self.step().await {
                Ok(true) => continue,
                Ok(false) => IDLE,
                Err(error) => {
                    tell(&error);
                    AFTER_FAULT
                }
            };
            tokio::select! {
                _ = stop.changed() => {}
                () = tokio::time::sleep(pause) => {}
            }
        }
    }

    /// As [`Self::run`], and again after a job that panicked: its lease ends, and its attempts are counted.
    pub async fn keep_running(self, stop: watch::Receiver<bool>) {
        loop {
            let (runner, stopped) = (self.clone(), stop.clone());
            match tokio::spawn(async move { runner.run(stopped).await }).await {
                Err(error) if error.is_panic() => tracing::error!("a job panicked; its worker goes on"),
                _ => return,
            }
        }
    }

    /// Prolongs the hold on `job` until it is lost. A database that is busy with the work itself is tried again:
    /// nobody else can take the job from it either. One that fails otherwise is tried again until the lease has ended.
    async fn keep(&self, job: &Job) -> StoreError {
        let (mut asked, mut pause) = (Instant::now(), HEARTBEAT);
        let mut held_until = asked + LEASE;
        loop {
            tokio::time::sleep_until(asked + pause).await;
            asked = Instant::now();
            pause = HEARTBEAT;
            match work::keep(&self.db, self.clock.as_ref(), job).await {
                Ok(()) => held_until = asked + LEASE,
                Err(error) if ends_hold(&error, Instant::now() >= held_until) => return error,
                Err(error) => {
                    tracing::warn!(error = &error as &dyn std::error::Error, job = %job.id, "a lease is not prolonged yet");
                    pause = AFTER_FAULT;
                }
            }
        }
    }

    /// Claims and runs one job; false when none was waiting.
    ///
    /// # Errors
    /// [`StoreError`] when the table cannot be read or written. A failing job is no error here: its
    /// failure is stored with it.
    pub async fn step(&self) -> Result<bool, StoreError> {
        let clock = self.clock.as_ref();
        let Some(job) = work::claim(&self.db, clock, self.kinds).await? else { return Ok(false) };
        let outcome = {
            let running = work::execute(&self.db, clock, &job, self.today, self.sources.as_ref());
            // Beside each other: the work may hold the one writer that a heartbeat waits for.
            tokio::select! {
                outcome = running => outcome,
                lost = self.keep(&job) => {
                    // The work ends where it stands; its transaction was not committed.
                    return if work::is_cancelled(&self.db, &job).await? { Ok(true) } else { Err(lost) };
                }
            }
        };
        work::finish(&self.db, clock, &job, &outcome).await?;
        if outcome.is_ok() {
            (self.notify)(job.watershed.clone());
        }
        Ok(true)
    }
}

/// Logs why a round of a worker came to nothing.
fn tell(error: &StoreError) {
    let told = error as &dyn std::error::Error;
    match error {
        StoreError::LeaseLost { job } => tracing::warn!(%job, "the job was ended or taken by another worker"),
        StoreError::Busy(_) => tracing::warn!(error = told, "the job table is busy and is looked at again"),
        _ => tracing::error!(error = told, "the job table cannot be read"),
    }
}

/// Whether a hold that could not be prolonged ends with `error`; `is_over` when nothing has prolonged it for a lease.
fn ends_hold(error: &StoreError, is_over: bool) -> bool {
    match error {
        StoreError::LeaseLost { .. } => true,
        StoreError::Busy(_) => false,
        _ => is_over,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hold_outlives_a_passing_fault_but_not_its_lease() {
        let fault = StoreError::Unstorable { reason: "stands for any fault" };
        assert!(!ends_hold(&fault, false) && ends_hold(&fault, true));
        let lost = StoreError::LeaseLost { job: uuid::Uuid::nil() };
        assert!(ends_hold(&lost, false), "another has it");
    }
}
