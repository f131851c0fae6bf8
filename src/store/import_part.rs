//! Files that wait to be imported by a job, in parts.

use uuid::Uuid;

use super::arg::args;
use super::{StoreError, Tx};

/// Keeps part number `part`, from 0, of the file of `job`.
///
/// # Errors
/// [`StoreError::Conflict`] for a part that is there already; [`StoreError::Unstorable`] for a NUL character.
pub async fn put_part(tx: &mut Tx, job: Uuid, part: u32, content: &str) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO import_part (job_id, part, content) VALUES ($1, $2, $3)";
    tx.execute(SQL, args![job, part, content]).await.map(drop)
}

/// Part number `part` of the file of `job`; `None` after the last.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_part(tx: &mut Tx, job: Uuid, part: u32) -> Result<Option<String>, StoreError> {
    const SQL: &str = "SELECT content FROM import_part WHERE job_id = $1 AND part = $2";
    tx.row("import_part", SQL, args![job, part]).await?.map(|row| row.text("content")).transpose()
}

/// Forgets the files of jobs that have ended, and says how many files are left.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn tidy_parts(tx: &mut Tx) -> Result<u64, StoreError> {
    const TIDY: &str = "DELETE FROM import_part WHERE job_id IN \
        (SELECT j.id FROM job j WHERE j.state IN ('done', 'failed', 'cancelled'))";
    const COUNT: &str = "SELECT count(*) AS files FROM import_part WHERE part = 0";
    tx.execute(TIDY, args![]).await?;
    match tx.row("import_part", COUNT, args![]).await? {
        Some(row) => row.number("files"),
        None => Ok(0),
    }
}
