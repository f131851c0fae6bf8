//! What each calendar entry last said, so that its sequence number and time follow its content.

use chrono::{DateTime, Utc};

use super::arg::args;
use super::keys::watershed_id;
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::Slug;

/// One calendar entry as last published.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FeedEvent {
    /// Stable identifier.
    pub uid: String,
    /// The watershed whose feed it is in.
    pub watershed: Slug,
    /// Hash of the content.
    pub content_hash: String,
    /// The content, so that a withdrawn entry can still be shown as cancelled.
    pub content: String,
    /// Grows with every change of content.
    pub sequence: i64,
    /// When the content last changed.
    pub changed_at: DateTime<Utc>,
    /// When it left the forecasts.
    pub withdrawn_at: Option<DateTime<Utc>>,
}

/// All entries of a watershed by identifier, withdrawn ones included.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn feed_events(tx: &mut Tx, watershed: &Slug) -> Result<Vec<FeedEvent>, StoreError> {
    const SQL: &str = "SELECT f.uid, w.slug AS watershed, f.content_hash, f.content, f.sequence, f.changed_at, \
        f.withdrawn_at FROM feed_event f JOIN watershed w ON w.id = f.watershed_id \
        WHERE f.watershed_id = $1 ORDER BY f.uid";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("feed_event", SQL, args![watershed_id]).await?.iter().map(read_event).collect()
}

/// Stores an entry, new or changed.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed; [`StoreError::Conflict`] when the stored
/// sequence number is higher: a calendar would take the change for an older one.
pub async fn put_feed_event(tx: &mut Tx, event: &FeedEvent) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO feed_event \
        (uid, watershed_id, content_hash, content, sequence, changed_at, withdrawn_at) \
        VALUES ($1, $2, $3, $4, $5, $6, $7) ON CONFLICT (uid) DO UPDATE \
        SET watershed_id = excluded.watershed_id, content_hash = excluded.content_hash, \
        content = excluded.content, sequence = excluded.sequence, changed_at = excluded.changed_at, \
        withdrawn_at = excluded.withdrawn_at WHERE feed_event.sequence <= excluded.sequence";
    let watershed_id = watershed_id(tx, &event.watershed).await?;
    let FeedEvent { uid, content_hash, content, sequence, changed_at, withdrawn_at, .. } = event;
    let args = args![uid, watershed_id, content_hash, content, *sequence, *changed_at, withdrawn_at];
    match tx.execute(SQL, args).await? {
        0 => Err(StoreError::conflict("feed event sequence")),
        _ => Ok(()),
    }
}

/// Drops entries that were withdrawn before `since`; tells how many. Should one come back later, its sequence number
/// begins anew, so `since` must lie before every season that is still published.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn drop_withdrawn_events(tx: &mut Tx, since: DateTime<Utc>) -> Result<u64, StoreError> {
    tx.execute("DELETE FROM feed_event WHERE withdrawn_at < $1", args![since]).await
}

fn read_event(row: &Row) -> Result<FeedEvent, StoreError> {
    Ok(FeedEvent {
        uid: row.text("uid")?,
        watershed: row.slug("watershed")?,
        content_hash: row.text("content_hash")?,
        content: row.text("content")?,
        sequence: row.int("sequence")?,
        changed_at: row.instant("changed_at")?,
        withdrawn_at: row.opt_instant("withdrawn_at")?,
    })
}
