//! Single values of the whole database.

use super::arg::args;
use super::{StoreError, Tx};

/// The value under `key`, if set.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn get_meta(tx: &mut Tx, key: &str) -> Result<Option<String>, StoreError> {
    let row = tx.row("meta", "SELECT key, value FROM meta WHERE key = $1", args![key]).await?;
    row.map(|row| row.text("value")).transpose()
}

/// Sets the value under `key`, whether or not there was one.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn set_meta(tx: &mut Tx, key: &str, value: &str) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO meta (key, value) VALUES ($1, $2) \
        ON CONFLICT (key) DO UPDATE SET value = excluded.value";
    tx.execute(SQL, args![key, value]).await?;
    Ok(())
}
