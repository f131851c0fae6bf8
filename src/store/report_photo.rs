//! Photos of reports, one at most each.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::arg::{Arg, args};
use super::{StoreError, Tx};
use crate::domain::photo::Photo;

/// Keeps `photo` with the report `id`, in the place of one that is there.
///
/// # Errors
/// [`StoreError::UnknownReference`] when there is no such report.
pub async fn put_photo(tx: &mut Tx, id: Uuid, photo: &Photo, now: DateTime<Utc>) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO report_photo (report_id, jpeg, width_px, height_px, received_at) \
        SELECT p.id, $2, $3, $4, $5 FROM report p WHERE p.id = $1 AND p.withdrawn_at IS NULL \
        ON CONFLICT (report_id) DO UPDATE SET jpeg = excluded.jpeg, width_px = excluded.width_px, \
        height_px = excluded.height_px, received_at = excluded.received_at";
    let args = args![id, photo.jpeg.as_slice(), photo.width_px, photo.height_px, now];
    if tx.execute(SQL, args).await? == 0 {
        return Err(StoreError::unknown("report", &id));
    }
    Ok(())
}

/// The photo of the report `id`.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_photo(tx: &mut Tx, id: Uuid) -> Result<Option<Photo>, StoreError> {
    const SQL: &str = "SELECT report_id, jpeg, width_px, height_px FROM report_photo WHERE report_id = $1";
    let Some(row) = tx.row("report_photo", SQL, args![id]).await? else { return Ok(None) };
    let (jpeg, width_px, height_px) = (row.bytes("jpeg")?, row.number("width_px")?, row.number("height_px")?);
    Ok(Some(Photo { jpeg, width_px, height_px }))
}

/// Forgets the photo of the report `id`; says whether there was one.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn delete_photo(tx: &mut Tx, id: Uuid) -> Result<bool, StoreError> {
    Ok(tx.execute("DELETE FROM report_photo WHERE report_id = $1", args![id]).await? > 0)
}

/// Which of the reports `ids` have a photo.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn with_photo(tx: &mut Tx, ids: &[Uuid]) -> Result<Vec<Uuid>, StoreError> {
    const SQL: &str = "SELECT report_id FROM report_photo WHERE report_id IN ";
    let mut found = Vec::new();
    for chunk in ids.chunks(500) {
        let sql = tx.dialect().in_list(SQL, chunk.len());
        for row in tx.rows_built("report_photo", sql, chunk.iter().map(|id| Arg::from(*id)).collect()).await? {
            found.push(row.uuid("report_id")?);
        }
    }
    Ok(found)
}
