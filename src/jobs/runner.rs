//! The loop of one worker.

use std::sync::Arc;
use std::time::Duration;

use chrono::{NaiveDate, TimeDelta};
use tokio::sync::watch;

use crate::clock::Clock;
use crate::domain::Slug;
use crate::domain::job::Job;
use crate::store::job::{Lease, claim_job, finish_job, heartbeat_job, release_expired_jobs};
use crate::store::{Db, StoreError};

/// How long a claim holds without a heartbeat.
const LEASE: TimeDelta = TimeDelta::seconds(30);
const HEARTBEAT: Duration = Duration::from_secs(10);
/// Pause when there is nothing to do.
const IDLE: Duration = Duration::from_millis(500);
/// Pause after the database failed.
const AFTER_FAULT: Duration = Duration::from_secs(5);
/// A job whose worker died this often is given up.
const MOST_ATTEMPTS: u32 = 3;

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
                    tracing::error!(error = &error as &dyn std::error::Error, "the job table cannot be read");
                    AFTER_FAULT
                }
            };
            tokio::select! {
                _ = stop.changed() => {}
                () = tokio::time::sleep(pause) => {}
            }
        }
    }

    /// Claims and runs one job; false when none was waiting.
    ///
    /// # Errors
    /// [`StoreError`] when the table cannot be read or written. A failing job is no error here: its
    /// failure is stored with it.
    pub async fn step(&self) -> Result<bool, StoreError> {
        let mut tx = self.db.write().await?;
        release_expired_jobs(&mut tx, MOST_ATTEMPTS, self.clock.now()).await?;
        let job = claim_job(&mut tx, LEASE, self.clock.now()).await?;
        tx.commit().await?;
        let Some(job) = job else { return Ok(false) };
        let lease = Lease::of(&job);
        let outcome = {
            let work = self.execute(&job);
            tokio::pin!(work);
            loop {
                tokio::select! {
                    outcome = &mut work => break outcome,
                    () = tokio::time::sleep(HEARTBEAT) => {
                        let mut tx = self.db.write().await?;
                        heartbeat_job(&mut tx, lease, LEASE, self.clock.now()).await?;
                        tx.commit().await?;
                    }
                }
            }
        };
        let mut tx = self.db.write().await?;
        let stored = outcome.as_ref().map(String::as_str).map_err(String::as_str);
        finish_job(&mut tx, lease, stored, self.clock.now()).await?;
        tx.commit().await?;
        if outcome.is_ok() {
            (self.notify)(job.watershed.clone());
        }
        Ok(true)
    }

    /// Result or error of `job`, each as JSON text.
    async fn execute(&self, job: &Job) -> Result<String, String> {
        match job.kind.as_str() {
            "fit" => super::fit::run(self, job).await,
            other => Err(super::fit::error_json("unknown-job", &format!("no worker knows jobs of kind {other}"))),
        }
    }
}
