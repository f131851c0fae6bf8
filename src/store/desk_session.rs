//! Keepers who are signed in at the desk. Only the SHA-256 of a session's key ever comes here.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::arg::args;
use super::token::hex;
use super::{StoreError, Tx};

/// Stores a session of the token of that id, and forgets those that have ended.
///
/// # Errors
/// [`StoreError::Conflict`] for an unknown token.
pub async fn insert_session(
    tx: &mut Tx,
    sha256: &[u8; 32],
    token: Uuid,
    now: DateTime<Utc>,
    expires_at: DateTime<Utc>,
) -> Result<(), StoreError> {
    const FORGET: &str = "DELETE FROM desk_session WHERE expires_at <= $1";
    const SQL: &str = "INSERT INTO desk_session (sha256, token_id, created_at, expires_at) VALUES ($1, $2, $3, $4)";
    tx.execute(FORGET, args![now]).await?;
    tx.execute(SQL, args![hex(sha256), token, now, expires_at]).await?;
    Ok(())
}

/// The token of the session whose key has that SHA-256, while the session lasts.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn session_token(tx: &mut Tx, sha256: &[u8; 32], now: DateTime<Utc>) -> Result<Option<Uuid>, StoreError> {
    const SQL: &str = "SELECT token_id FROM desk_session WHERE sha256 = $1 AND expires_at > $2";
    let row = tx.row("desk_session", SQL, args![hex(sha256), now]).await?;
    row.map(|row| row.uuid("token_id")).transpose()
}

/// Ends a session.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn delete_session(tx: &mut Tx, sha256: &[u8; 32]) -> Result<(), StoreError> {
    tx.execute("DELETE FROM desk_session WHERE sha256 = $1", args![hex(sha256)]).await?;
    Ok(())
}
