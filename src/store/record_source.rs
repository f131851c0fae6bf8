//! On what terms records may be passed on, by where they came from.

use std::collections::HashMap;

use super::arg::args;
use super::keys::watershed_id;
use super::{StoreError, Tx};
use crate::domain::{Rights, Slug};

/// Keeps the terms of all records of `source`; what was said before is replaced.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn put_rights(tx: &mut Tx, watershed: &Slug, source: &str, rights: &Rights) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO record_source (watershed_id, source, licence, citation) VALUES ($1, $2, $3, $4) \
        ON CONFLICT (watershed_id, source) DO UPDATE SET licence = excluded.licence, citation = excluded.citation";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.execute(SQL, args![watershed_id, source, &rights.licence, &rights.citation]).await.map(drop)
}

/// The terms of the records of `watershed`, by their source.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn rights(tx: &mut Tx, watershed: &Slug) -> Result<HashMap<String, Rights>, StoreError> {
    const SQL: &str = "SELECT source, licence, citation FROM record_source WHERE watershed_id = $1";
    let watershed_id = watershed_id(tx, watershed).await?;
    let mut found = HashMap::new();
    for row in tx.rows("record_source", SQL, args![watershed_id]).await? {
        let rights = Rights { licence: row.opt_text("licence")?, citation: row.opt_text("citation")? };
        found.insert(row.text("source")?, rights);
    }
    Ok(found)
}
