//! What was fetched for gauges.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use serde::Serialize;

use crate::domain::{Gauge, Watershed};
use crate::ingest::temperature::Refused;
use crate::store::Counts;

/// How fetching for one gauge ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SyncState {
    /// Everything there is was fetched.
    Done,
    /// The source says that nothing changed.
    Unchanged,
    /// The gauge names no source that can be asked.
    NoSource,
    /// The service asks to be left alone for a while.
    PutOff,
    /// It went wrong; what was stored before stays.
    Failed,
}

/// What was fetched for one gauge.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GaugeSyncDocument {
    /// Watershed slug.
    pub watershed: String,
    /// Gauge slug.
    pub gauge: String,
    /// Its source, as written.
    pub source: Option<String>,
    /// How it ended.
    pub state: SyncState,
    /// Why it failed or was put off.
    pub reason: Option<String>,
    /// Readings that came.
    pub fetched: u64,
    /// New ones.
    pub created: u64,
    /// New versions of known ones.
    pub updated: u64,
    /// Those that said what was known.
    pub unchanged: u64,
    /// Values that were refused, by reason.
    pub refused: BTreeMap<&'static str, u64>,
    /// Series that were taken.
    pub series: Vec<String>,
    /// What there was to say.
    pub notes: Vec<String>,
    /// Last local day with a value.
    pub through: Option<NaiveDate>,
}

impl GaugeSyncDocument {
    /// Nothing fetched yet.
    #[must_use]
    pub fn new(watershed: &Watershed, gauge: &Gauge) -> Self {
        Self {
            watershed: watershed.slug.to_string(),
            gauge: gauge.slug.to_string(),
            source: gauge.source.clone(),
            state: SyncState::Done,
            reason: None,
            fetched: 0,
            created: 0,
            updated: 0,
            unchanged: 0,
            refused: BTreeMap::new(),
            series: Vec::new(),
            notes: Vec::new(),
            through: None,
        }
    }

    /// True when the source should have been read and was not.
    #[must_use]
    pub fn is_failure(&self) -> bool {
        matches!(self.state, SyncState::Failed | SyncState::PutOff)
    }

    /// Says that it ended short.
    pub fn fail(&mut self, state: SyncState, reason: String) {
        self.state = state;
        self.reason = Some(reason);
    }

    /// Adds what was stored.
    pub fn count(&mut self, fetched: usize, counts: Counts, refused: &Refused) {
        self.fetched += fetched as u64;
        self.created += counts.created;
        self.updated += counts.updated;
        self.unchanged += counts.unchanged;
        for (why, count) in refused.iter() {
            *self.refused.entry(why.as_str()).or_default() += count;
        }
    }
}

/// What was fetched.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SyncDocument {
    /// Gauges that failed or were put off.
    pub failed: usize,
    /// All gauges asked for.
    pub gauges: Vec<GaugeSyncDocument>,
}
