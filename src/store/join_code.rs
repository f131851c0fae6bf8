//! Codes that members exchange for a token. Only the SHA-256 of a code ever comes here.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::arg::args;
use super::keys::watershed_id;
use super::row::Row;
use super::token::hex;
use super::{StoreError, Tx};
use crate::domain::{JoinCode, Slug};

/// What [`read_code`] reads, of code `c` and watershed `w`, and where from.
macro_rules! SELECT {
    ($rest:literal) => {
        concat!(
            "SELECT c.id, w.slug AS watershed, c.name, c.most_uses, c.uses, c.created_at, c.expires_at, c.revoked_at ",
            "FROM join_code c JOIN watershed w ON w.id = c.watershed_id ",
            $rest
        )
    };
}

/// Stores a code with its SHA-256.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed; [`StoreError::Conflict`] for a known id or code.
pub async fn insert_join_code(tx: &mut Tx, code: &JoinCode, sha256: &[u8; 32]) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO join_code (id, watershed_id, sha256, name, most_uses, uses, created_at, expires_at, \
        revoked_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)";
    let watershed_id = watershed_id(tx, &code.watershed).await?;
    let JoinCode { id, name, most_uses, uses, created_at, expires_at, revoked_at, .. } = code;
    let args = args![*id, watershed_id, hex(sha256), name, *most_uses, *uses, *created_at, *expires_at, revoked_at];
    tx.execute(SQL, args).await?;
    Ok(())
}

/// The codes of a watershed, oldest first, ended ones included.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn join_codes(tx: &mut Tx, watershed: &Slug) -> Result<Vec<JoinCode>, StoreError> {
    const SQL: &str = SELECT!("WHERE c.watershed_id = $1 ORDER BY c.created_at, c.id");
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("join_code", SQL, args![watershed_id]).await?.iter().map(read_code).collect()
}

/// The code with that SHA-256, whether or not it still holds.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_join_code(tx: &mut Tx, sha256: &[u8; 32]) -> Result<Option<JoinCode>, StoreError> {
    let row = tx.row("join_code", SELECT!("WHERE c.sha256 = $1"), args![hex(sha256)]).await?;
    row.as_ref().map(read_code).transpose()
}

/// Counts one use of the code of that id. False when it holds no more at `now`: of those who come together, no more are
/// told true than the code is good for.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn use_join_code(tx: &mut Tx, id: Uuid, now: DateTime<Utc>) -> Result<bool, StoreError> {
    const SQL: &str = "UPDATE join_code SET uses = uses + 1 \
        WHERE id = $1 AND uses < most_uses AND revoked_at IS NULL AND expires_at > $2";
    Ok(tx.execute(SQL, args![id, now]).await? > 0)
}

/// Notes by which code a token came.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn note_join(tx: &mut Tx, token: Uuid, code: Uuid) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO token_join (token_id, join_code_id) VALUES ($1, $2)";
    tx.execute(SQL, args![token, code]).await?;
    Ok(())
}

/// By which code a token came, if by any.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn code_of_token(tx: &mut Tx, token: Uuid) -> Result<Option<Uuid>, StoreError> {
    const SQL: &str = "SELECT join_code_id FROM token_join WHERE token_id = $1";
    let row = tx.row("token_join", SQL, args![token]).await?;
    row.map(|row| row.uuid("join_code_id")).transpose()
}

/// Ends a code from now on. False when the watershed has none of that id that was not revoked before.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn revoke_join_code(tx: &mut Tx, watershed: &Slug, id: Uuid, at: DateTime<Utc>) -> Result<bool, StoreError> {
    const SQL: &str = "UPDATE join_code SET revoked_at = $3 WHERE id = $1 AND watershed_id = $2 AND revoked_at IS NULL";
    let watershed_id = watershed_id(tx, watershed).await?;
    Ok(tx.execute(SQL, args![id, watershed_id, at]).await? > 0)
}

fn read_code(row: &Row) -> Result<JoinCode, StoreError> {
    Ok(JoinCode {
        id: row.uuid("id")?,
        watershed: row.slug("watershed")?,
        name: row.text("name")?,
        most_uses: row.number("most_uses")?,
        uses: row.number("uses")?,
        created_at: row.instant("created_at")?,
        expires_at: row.instant("expires_at")?,
        revoked_at: row.opt_instant("revoked_at")?,
    })
}
