//! What reports said before each change.

use std::collections::HashMap;

use uuid::Uuid;

use super::arg::{Arg, args};
use super::report::Revision;
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::report::ReportAction;

/// Reports whose history is read at once.
const CHUNK: usize = 500;

/// What a report said before each change, first change first; withdrawn reports included.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn report_revisions(tx: &mut Tx, id: Uuid) -> Result<Vec<Revision>, StoreError> {
    const SQL: &str = "SELECT report_id, version, changed_at, changed_by, reason, action, document \
        FROM report_revision WHERE report_id = $1 ORDER BY version";
    tx.rows("report_revision", SQL, args![id]).await?.iter().map(read_revision).collect()
}

/// The same of many reports; those that were never changed have no entry.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn revisions_of(tx: &mut Tx, ids: &[Uuid]) -> Result<HashMap<Uuid, Vec<Revision>>, StoreError> {
    const SQL: &str = "SELECT report_id, version, changed_at, changed_by, reason, action, document \
        FROM report_revision WHERE report_id IN ";
    let mut found: HashMap<Uuid, Vec<Revision>> = HashMap::new();
    for chunk in ids.chunks(CHUNK) {
        let sql = tx.dialect().in_list(SQL, chunk.len()) + " ORDER BY report_id, version";
        for row in tx.rows_built("report_revision", sql, chunk.iter().map(|id| Arg::from(*id)).collect()).await? {
            found.entry(row.uuid("report_id")?).or_default().push(read_revision(&row)?);
        }
    }
    Ok(found)
}

fn read_revision(row: &Row) -> Result<Revision, StoreError> {
    Ok(Revision {
        version: row.number("version")?,
        changed_at: row.instant("changed_at")?,
        changed_by: row.uuid("changed_by")?,
        reason: row.opt_text("reason")?,
        action: row.opt_word("action", ReportAction::parse)?,
        document_json: row.text("document")?,
    })
}
