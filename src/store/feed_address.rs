//! Secret addresses of feeds, and which waters give their feeds under those alone. Only the SHA-256 of a key ever
//! comes here.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::arg::args;
use super::forecast::raise_generation;
use super::keys::watershed_id;
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::Slug;

/// A secret address of the feeds of a watershed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FeedAddress {
    /// Identifier used to list and revoke.
    pub id: Uuid,
    /// The watershed.
    pub watershed: Slug,
    /// Who or what it is for.
    pub name: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it was revoked.
    pub revoked_at: Option<DateTime<Utc>>,
}

/// Stores an address with the SHA-256 of its key, as hexadecimal digits.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed; [`StoreError::Conflict`] for a known id or key.
pub async fn insert_feed_address(tx: &mut Tx, address: &FeedAddress, sha256: &str) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO feed_address (id, watershed_id, sha256, name, created_at, revoked_at) \
        VALUES ($1, $2, $3, $4, $5, $6)";
    let watershed_id = watershed_id(tx, &address.watershed).await?;
    let FeedAddress { id, name, created_at, revoked_at, .. } = address;
    tx.execute(SQL, args![*id, watershed_id, sha256, name, *created_at, revoked_at]).await?;
    Ok(())
}

/// The addresses of a watershed, oldest first, revoked ones included.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn feed_addresses(tx: &mut Tx, watershed: &Slug) -> Result<Vec<FeedAddress>, StoreError> {
    const SQL: &str = "SELECT f.id, w.slug AS watershed, f.name, f.created_at, f.revoked_at FROM feed_address f \
        JOIN watershed w ON w.id = f.watershed_id WHERE f.watershed_id = $1 ORDER BY f.created_at, f.id";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("feed_address", SQL, args![watershed_id]).await?.iter().map(read_address).collect()
}

/// True when the key with that SHA-256 opens the feeds of `watershed` now.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn feed_key_holds(tx: &mut Tx, watershed: &Slug, sha256: &str) -> Result<bool, StoreError> {
    const SQL: &str = "SELECT id FROM feed_address WHERE sha256 = $1 AND watershed_id = $2 AND revoked_at IS NULL";
    let watershed_id = watershed_id(tx, watershed).await?;
    Ok(tx.row("feed_address", SQL, args![sha256, watershed_id]).await?.is_some())
}

/// Ends an address from now on. False when the watershed has none of that id that still holds.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn revoke_feed_address(
    tx: &mut Tx,
    watershed: &Slug,
    id: Uuid,
    at: DateTime<Utc>,
) -> Result<bool, StoreError> {
    const SQL: &str =
        "UPDATE feed_address SET revoked_at = $3 WHERE id = $1 AND watershed_id = $2 AND revoked_at IS NULL";
    let watershed_id = watershed_id(tx, watershed).await?;
    Ok(tx.execute(SQL, args![id, watershed_id, at]).await? > 0)
}

/// True when the feeds of a watershed are given under secret addresses alone.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn are_feeds_private(tx: &mut Tx, watershed: &Slug) -> Result<bool, StoreError> {
    const SQL: &str = "SELECT since_at FROM private_feeds WHERE watershed_id = $1";
    let watershed_id = watershed_id(tx, watershed).await?;
    Ok(tx.row("private_feeds", SQL, args![watershed_id]).await?.is_some())
}

/// Gives the feeds of a watershed under secret addresses alone from now on, or to everyone.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn set_feeds_private(
    tx: &mut Tx,
    watershed: &Slug,
    private: bool,
    at: DateTime<Utc>,
) -> Result<(), StoreError> {
    const SET: &str = "INSERT INTO private_feeds (watershed_id, since_at) VALUES ($1, $2) ON CONFLICT DO NOTHING";
    const CLEAR: &str = "DELETE FROM private_feeds WHERE watershed_id = $1";
    let watershed_id = watershed_id(tx, watershed).await?;
    if private {
        tx.execute(SET, args![watershed_id, at]).await?;
    } else {
        tx.execute(CLEAR, args![watershed_id]).await?;
    }
    raise_generation(tx).await
}

fn read_address(row: &Row) -> Result<FeedAddress, StoreError> {
    Ok(FeedAddress {
        id: row.uuid("id")?,
        watershed: row.slug("watershed")?,
        name: row.text("name")?,
        created_at: row.instant("created_at")?,
        revoked_at: row.opt_instant("revoked_at")?,
    })
}
