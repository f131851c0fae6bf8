//! What else is done with tokens: binding one to a further watershed, giving one another secret, naming many.

use std::collections::HashMap;

use uuid::Uuid;

use super::arg::{Arg, args};
use super::keys::watershed_id;
use super::token::hex;
use super::{StoreError, Tx};
use crate::domain::Slug;

/// Tokens named at once.
const CHUNK: usize = 500;

/// Binds the token of that id to `watershed` as well.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed; [`StoreError::Conflict`] for the token.
pub async fn bind_token(tx: &mut Tx, id: Uuid, watershed: &Slug) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO token_watershed (token_id, watershed_id) VALUES ($1, $2) ON CONFLICT DO NOTHING";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.execute(SQL, args![id, watershed_id]).await?;
    Ok(())
}

/// Gives a token that was never used another secret. False when it was used or revoked, or is not there.
///
/// # Errors
/// [`StoreError::Conflict`] for a known secret.
pub async fn replace_secret(tx: &mut Tx, id: Uuid, sha256: &[u8; 32]) -> Result<bool, StoreError> {
    const SQL: &str = "UPDATE token SET sha256 = $2 WHERE id = $1 AND last_used_date IS NULL AND revoked_at IS NULL";
    Ok(tx.execute(SQL, args![id, hex(sha256)]).await? > 0)
}

/// The names of the tokens of those ids.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn token_names(tx: &mut Tx, ids: &[Uuid]) -> Result<HashMap<Uuid, String>, StoreError> {
    let mut names = HashMap::new();
    for chunk in ids.chunks(CHUNK) {
        let sql = tx.dialect().in_list("SELECT id, name FROM token WHERE id IN ", chunk.len());
        for row in tx.rows_built("token", sql, chunk.iter().map(|id| Arg::from(*id)).collect()).await? {
            names.insert(row.uuid("id")?, row.text("name")?);
        }
    }
    Ok(names)
}
