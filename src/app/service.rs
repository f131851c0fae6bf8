//! The running service: database, clock, snapshot and what is being fitted.

use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, PoisonError, RwLock};

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use tokio::sync::Semaphore;

use super::AppError;
use super::document::{SeasonReviewDocument, VisitPlanDocument};
use super::forecasts::Hindcast;
use super::kept::Kept;
use super::observed::Observed;
use super::snapshot::{self, Snapshot, WatershedView};
use super::turns::Turns;
use crate::clock::Clock;
use crate::domain::Slug;
use crate::store::{Db, SchemaState};

/// Memory for published forecasts unless set otherwise, bytes.
pub const SNAPSHOT_BYTES: usize = 64 * 1024 * 1024;

/// How far the fits of a watershed have come.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct FittingProgress {
    /// Taxa done.
    pub done: usize,
    /// Taxa in all.
    pub total: usize,
    /// Taxa still to come, the one under way first.
    pub pending: Vec<Slug>,
}

/// The service. Cheap to clone.
#[derive(Debug, Clone)]
pub struct Service(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    db: Db,
    clock: Arc<dyn Clock>,
    shown_today: Option<NaiveDate>,
    hindcast: Option<Arc<dyn Hindcast>>,
    snapshot_bytes: usize,
    snapshot: RwLock<Arc<Snapshot>>,
    refreshing: tokio::sync::Mutex<()>,
    fitting: RwLock<HashMap<String, FittingProgress>>,
    held: AtomicBool,
    observed: RwLock<Option<Arc<Observed>>>,
    turns: Turns,
    reviews: Kept<SeasonReviewDocument>,
    plans: Kept<VisitPlanDocument>,
    touching: Semaphore,
}

/// How a [`Service`] is put together.
#[derive(Debug)]
pub struct ServiceBuilder {
    db: Db,
    clock: Arc<dyn Clock>,
    shown_today: Option<NaiveDate>,
    hindcast: Option<Arc<dyn Hindcast>>,
    snapshot_bytes: usize,
}

impl ServiceBuilder {
    /// Shows `date` as today on pages and in forecasts; tokens, jobs and feeds keep the clock.
    #[must_use]
    pub fn shown_today(mut self, date: Option<NaiveDate>) -> Self {
        self.shown_today = date;
        self
    }

    /// Computes forecasts as of a past day.
    #[must_use]
    pub fn hindcast(mut self, hindcast: Arc<dyn Hindcast>) -> Self {
        self.hindcast = Some(hindcast);
        self
    }

    /// Memory for published forecasts, bytes.
    #[must_use]
    pub fn snapshot_bytes(mut self, bytes: usize) -> Self {
        self.snapshot_bytes = bytes;
        self
    }

    /// The service, with nothing loaded yet.
    #[must_use]
    pub fn build(self) -> Service {
        Service(Arc::new(Inner {
            db: self.db,
            clock: self.clock,
            shown_today: self.shown_today,
            hindcast: self.hindcast,
            snapshot_bytes: self.snapshot_bytes,
            snapshot: RwLock::new(Arc::new(Snapshot::empty(self.snapshot_bytes))),
            refreshing: tokio::sync::Mutex::new(()),
            fitting: RwLock::default(),
            held: AtomicBool::new(false),
            observed: RwLock::default(),
            turns: Turns::default(),
            reviews: Kept::default(),
            plans: Kept::default(),
            touching: Semaphore::new(1),
        }))
    }
}

impl Service {
    /// Starts to build a service on `db`.
    #[must_use]
    pub fn builder(db: Db, clock: Arc<dyn Clock>) -> ServiceBuilder {
        ServiceBuilder { db, clock, shown_today: None, hindcast: None, snapshot_bytes: SNAPSHOT_BYTES }
    }

    /// Who publishes after reports.
    pub(super) fn turns(&self) -> &Turns {
        &self.0.turns
    }

    /// Reviews of seasons that were asked for.
    pub(super) fn reviews(&self) -> &Kept<SeasonReviewDocument> {
        &self.0.reviews
    }

    /// Plans of visits that were asked for.
    pub(super) fn plans(&self) -> &Kept<VisitPlanDocument> {
        &self.0.plans
    }

    /// Who keeps the day of a token's last use.
    pub(super) fn touching(&self) -> &Semaphore {
        &self.0.touching
    }

    /// The database.
    #[must_use]
    pub fn db(&self) -> &Db {
        &self.0.db
    }

    /// The clock of the machine.
    #[must_use]
    pub fn clock(&self) -> &dyn Clock {
        self.0.clock.as_ref()
    }

    /// The present instant of the machine.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        self.0.clock.now()
    }

    /// The civil date shown as today in `zone`.
    #[must_use]
    pub fn today(&self, zone: Tz) -> NaiveDate {
        self.0.shown_today.unwrap_or_else(|| self.now().with_timezone(&zone).date_naive())
    }

    /// The date shown as today where it is not the clock's.
    #[must_use]
    pub fn date_of_its_own(&self) -> Option<NaiveDate> {
        self.0.shown_today
    }

    /// Latest instant that a visit may be said to have ended: tomorrow by the clock, or by the
    /// shown date where that is later.
    #[must_use]
    pub fn latest_visit_end(&self) -> DateTime<Utc> {
        let by_clock = self.now() + chrono::Duration::days(1);
        let shown = self.0.shown_today.and_then(|date| date.and_hms_opt(0, 0, 0));
        shown.map_or(by_clock, |midnight| by_clock.max(midnight.and_utc() + chrono::Duration::days(2)))
    }

    /// Who computes forecasts as of a past day.
    #[must_use]
    pub fn hindcast(&self) -> Option<&Arc<dyn Hindcast>> {
        self.0.hindcast.as_ref()
    }

    /// What is served now.
    #[must_use]
    pub fn snapshot(&self) -> Arc<Snapshot> {
        Arc::clone(&self.0.snapshot.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// The view of `watershed`.
    ///
    /// # Errors
    /// [`AppError::NotFound`].
    pub fn watershed(&self, watershed: &Slug) -> Result<Arc<WatershedView>, AppError> {
        self.snapshot().watershed(watershed).ok_or_else(|| AppError::not_found("watershed"))
    }

    /// Reads everything served anew and swaps it in.
    ///
    /// # Errors
    /// [`AppError::Store`]; what was served before stays.
    pub async fn refresh(&self) -> Result<(), AppError> {
        let _one_at_a_time = self.0.refreshing.lock().await;
        let fresh = snapshot::load(&self.0.db, self.0.snapshot_bytes, &self.snapshot()).await?;
        *self.0.snapshot.write().unwrap_or_else(PoisonError::into_inner) = Arc::new(fresh);
        Ok(())
    }

    /// [`Self::refresh`] after a change that is stored. A failure is logged and no failure of the change: whoever asked
    /// for that must not be told that nothing was stored. [`super::snapshot::keep_fresh`] reads it soon.
    pub async fn serve_stored(&self) {
        if let Err(error) = self.refresh().await {
            let error = &error as &dyn std::error::Error;
            tracing::warn!(error, "what was stored is not served yet");
        }
    }

    /// What was observed, as read last.
    pub(super) fn observed(&self) -> Option<Arc<Observed>> {
        self.0.observed.read().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Keeps what was observed for whoever asks next.
    pub(super) fn keep_observed(&self, observed: Arc<Observed>) {
        *self.0.observed.write().unwrap_or_else(PoisonError::into_inner) = Some(observed);
    }

    /// Says how far the fits of `watershed` have come; `None` when nothing is being fitted.
    pub fn set_fitting(&self, watershed: &Slug, progress: Option<FittingProgress>) {
        let mut fitting = self.0.fitting.write().unwrap_or_else(PoisonError::into_inner);
        match progress {
            Some(progress) => fitting.insert(watershed.key(), progress),
            None => fitting.remove(&watershed.key()),
        };
    }

    /// How far the fits of `watershed` have come.
    #[must_use]
    pub fn fitting(&self, watershed: &Slug) -> Option<FittingProgress> {
        self.0.fitting.read().unwrap_or_else(PoisonError::into_inner).get(&watershed.key()).cloned()
    }

    /// Keeps [`Self::ready`] from answering yes, for example until a demo has its first forecasts.
    pub fn hold_readiness(&self, hold: bool) {
        self.0.held.store(hold, Ordering::SeqCst);
    }

    /// Passes once the schema is current and the published forecasts are served.
    ///
    /// # Errors
    /// [`AppError::Unavailable`] naming what is awaited.
    pub async fn ready(&self) -> Result<(), AppError> {
        let wait = |detail| AppError::Unavailable { detail, retry_after_s: 2 };
        match self.0.db.schema_state().await {
            Ok(SchemaState::Current) => {}
            Ok(_) => return Err(wait("The database schema is not the one this program needs.")),
            Err(_) => return Err(wait("The database does not answer.")),
        }
        let snapshot = self.snapshot();
        if !snapshot.is_loaded() {
            return Err(wait("The published forecasts are being read."));
        }
        let first_fit =
            snapshot.watersheds().iter().any(|view| !view.published && self.fitting(&view.watershed.slug).is_some());
        if first_fit || self.0.held.load(Ordering::SeqCst) {
            return Err(wait("The first forecasts are being computed."));
        }
        Ok(())
    }
}
