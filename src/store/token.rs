//! Access tokens. Only the SHA-256 of a secret ever comes here.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use super::arg::args;
use super::keys::watershed_id;
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::Slug;
use crate::domain::token::{Role, Token};

pub use super::token_bind::{bind_token, replace_secret, token_names};

/// Stores a token with the SHA-256 of its secret.
///
/// # Errors
/// [`StoreError::UnknownReference`] for a watershed; [`StoreError::Conflict`] for a known id or secret.
pub async fn insert_token(tx: &mut Tx, token: &Token, sha256: &[u8; 32]) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO token (id, sha256, name, role, created_at, expires_at, revoked_at, last_used_date) \
        VALUES ($1, $2, $3, $4, $5, $6, $7, $8)";
    const BIND: &str = "INSERT INTO token_watershed (token_id, watershed_id) VALUES ($1, $2) ON CONFLICT DO NOTHING";
    let Token { id, name, role, watersheds, created_at, expires_at, revoked_at, last_used_date } = token;
    let role = role.as_str();
    let args = args![*id, hex(sha256), name, role, *created_at, *expires_at, revoked_at, last_used_date];
    tx.execute(SQL, args).await?;
    for watershed in watersheds {
        let watershed_id = watershed_id(tx, watershed).await?;
        tx.execute(BIND, args![*id, watershed_id]).await?;
    }
    Ok(())
}

/// The token whose secret has that SHA-256, whether or not it still holds.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_token_by_hash(tx: &mut Tx, sha256: &[u8; 32]) -> Result<Option<Token>, StoreError> {
    const SQL: &str = "SELECT id, name, role, created_at, expires_at, revoked_at, last_used_date FROM token \
        WHERE sha256 = $1";
    let rows = tx.rows("token", SQL, args![hex(sha256)]).await?;
    Ok(with_watersheds(tx, &rows).await?.pop())
}

/// The token of that id, whether or not it still holds.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_token(tx: &mut Tx, id: Uuid) -> Result<Option<Token>, StoreError> {
    const SQL: &str = "SELECT id, name, role, created_at, expires_at, revoked_at, last_used_date FROM token \
        WHERE id = $1";
    let rows = tx.rows("token", SQL, args![id]).await?;
    Ok(with_watersheds(tx, &rows).await?.pop())
}

/// All tokens, or those bound to `watershed`, oldest first, revoked and ended ones included.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn tokens(tx: &mut Tx, watershed: Option<&Slug>) -> Result<Vec<Token>, StoreError> {
    const SQL: &str = "SELECT id, name, role, created_at, expires_at, revoked_at, last_used_date FROM token t \
        WHERE $1 IS NULL OR EXISTS \
        (SELECT 1 FROM token_watershed tw WHERE tw.token_id = t.id AND tw.watershed_id = $1) \
        ORDER BY created_at, id";
    let watershed_id = match watershed {
        Some(watershed) => Some(watershed_id(tx, watershed).await?),
        None => None,
    };
    let rows = tx.rows("token", SQL, args![watershed_id]).await?;
    with_watersheds(tx, &rows).await
}

/// Ends a token from now on. False when there is none of that id or it was revoked before.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn revoke_token(tx: &mut Tx, id: Uuid, at: DateTime<Utc>) -> Result<bool, StoreError> {
    const SQL: &str = "UPDATE token SET revoked_at = $2 WHERE id = $1 AND revoked_at IS NULL";
    Ok(tx.execute(SQL, args![id, at]).await? > 0)
}

/// Notes the day of use. False when that day or a later one is noted already, or no such token is.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn touch_token(tx: &mut Tx, id: Uuid, date: NaiveDate) -> Result<bool, StoreError> {
    const SQL: &str = "UPDATE token SET last_used_date = $2 \
        WHERE id = $1 AND (last_used_date IS NULL OR last_used_date < $2)";
    Ok(tx.execute(SQL, args![id, date]).await? > 0)
}

async fn with_watersheds(tx: &mut Tx, rows: &[Row]) -> Result<Vec<Token>, StoreError> {
    const ONE: &str = "SELECT tw.token_id, w.slug AS watershed FROM token_watershed tw \
        JOIN watershed w ON w.id = tw.watershed_id WHERE tw.token_id = $1 ORDER BY w.slug_key";
    const ALL: &str = "SELECT tw.token_id, w.slug AS watershed FROM token_watershed tw \
        JOIN watershed w ON w.id = tw.watershed_id ORDER BY w.slug_key";
    let bound = match rows {
        [] => return Ok(Vec::new()),
        [only] => tx.rows("token_watershed", ONE, args![only.text("id")?]).await?,
        _ => tx.rows("token_watershed", ALL, args![]).await?,
    };
    let mut watersheds: HashMap<Uuid, Vec<Slug>> = HashMap::new();
    for row in bound {
        watersheds.entry(row.uuid("token_id")?).or_default().push(row.slug("watershed")?);
    }
    rows.iter().map(|row| read_token(row, watersheds.remove(&row.uuid("id")?).unwrap_or_default())).collect()
}

fn read_token(row: &Row, watersheds: Vec<Slug>) -> Result<Token, StoreError> {
    Ok(Token {
        id: row.uuid("id")?,
        name: row.text("name")?,
        role: row.word("role", Role::parse)?,
        watersheds,
        created_at: row.instant("created_at")?,
        expires_at: row.instant("expires_at")?,
        revoked_at: row.opt_instant("revoked_at")?,
        last_used_date: row.opt_date("last_used_date")?,
    })
}

pub(super) fn hex(bytes: &[u8; 32]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let halves = bytes.iter().flat_map(|byte| [byte >> 4, byte & 0x0f]);
    halves.map(|half| char::from(DIGITS[usize::from(half)])).collect()
}
