//! How far each gauge has been fetched from its source.

use chrono::{DateTime, NaiveDate, Utc};

use super::arg::{args, words};
use super::keys::{gauge_id, watershed_id};
use super::{StoreError, Tx};
use crate::domain::Slug;

/// How far a gauge has been fetched, and how that went.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GaugeSync {
    /// The source that was asked, as written.
    pub source: String,
    /// The series that are taken.
    pub series: Vec<String>,
    /// Last civil day with a value.
    pub newest_date: Option<NaiveDate>,
    /// Entity tag of a source that is one document.
    pub etag: Option<String>,
    /// Its date, as sent.
    pub last_modified: Option<String>,
    /// Until when the source said that there is nothing new.
    pub fresh_until: Option<DateTime<Utc>>,
    /// When it was last read from the beginning.
    pub reread_at: Option<DateTime<Utc>>,
    /// Spans of the history, `from/to`, that could not be read.
    pub missing: Vec<String>,
    /// When it was last tried.
    pub tried_at: DateTime<Utc>,
    /// When it last went well.
    pub done_at: Option<DateTime<Utc>>,
    /// What went wrong last; nothing when it went well.
    pub failure: Option<String>,
    /// What was to be said.
    pub notes: Vec<String>,
}

impl GaugeSync {
    /// Nothing fetched yet of `source`, tried `now`.
    #[must_use]
    pub fn new(source: String, now: DateTime<Utc>) -> Self {
        Self {
            source,
            series: Vec::new(),
            newest_date: None,
            etag: None,
            last_modified: None,
            fresh_until: None,
            reread_at: None,
            missing: Vec::new(),
            tried_at: now,
            done_at: None,
            failure: None,
            notes: Vec::new(),
        }
    }
}

/// Stores how far `gauge` has been fetched, in place of what was there.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn put_gauge_sync(tx: &mut Tx, watershed: &Slug, gauge: &Slug, sync: &GaugeSync) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO gauge_sync (gauge_id, source, series, newest_date, etag, last_modified, tried_at, \
        done_at, failure, notes, fresh_until_at, reread_at, missing) \
        VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13) ON CONFLICT (gauge_id) DO UPDATE SET \
        source = excluded.source, series = excluded.series, newest_date = excluded.newest_date, \
        etag = excluded.etag, last_modified = excluded.last_modified, tried_at = excluded.tried_at, \
        done_at = excluded.done_at, failure = excluded.failure, notes = excluded.notes, \
        fresh_until_at = excluded.fresh_until_at, reread_at = excluded.reread_at, \
        missing = excluded.missing";
    let watershed_id = watershed_id(tx, watershed).await?;
    let gauge_id = gauge_id(tx, watershed_id, gauge).await?;
    let mut row = args![gauge_id, &sync.source];
    row.push(words(&sync.series));
    row.extend(args![sync.newest_date, &sync.etag, &sync.last_modified, sync.tried_at, sync.done_at, &sync.failure]);
    row.push(words(&sync.notes));
    row.extend(args![sync.fresh_until, sync.reread_at]);
    row.push(words(&sync.missing));
    tx.execute(SQL, row).await?;
    Ok(())
}

/// How far `gauge` has been fetched; `None` when it never was tried.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or gauge.
pub async fn find_gauge_sync(tx: &mut Tx, watershed: &Slug, gauge: &Slug) -> Result<Option<GaugeSync>, StoreError> {
    const SQL: &str = "SELECT source, series, newest_date, etag, last_modified, tried_at, done_at, failure, notes, \
        fresh_until_at, reread_at, missing FROM gauge_sync WHERE gauge_id = $1";
    let watershed_id = watershed_id(tx, watershed).await?;
    let gauge_id = gauge_id(tx, watershed_id, gauge).await?;
    let Some(row) = tx.row("gauge_sync", SQL, args![gauge_id]).await? else { return Ok(None) };
    Ok(Some(GaugeSync {
        source: row.text("source")?,
        series: row.words("series")?,
        newest_date: row.opt_date("newest_date")?,
        etag: row.opt_text("etag")?,
        last_modified: row.opt_text("last_modified")?,
        fresh_until: row.opt_instant("fresh_until_at")?,
        reread_at: row.opt_instant("reread_at")?,
        missing: row.words("missing")?,
        tried_at: row.instant("tried_at")?,
        done_at: row.opt_instant("done_at")?,
        failure: row.opt_text("failure")?,
        notes: row.words("notes")?,
    }))
}
