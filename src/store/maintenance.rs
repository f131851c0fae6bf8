//! Looking after the database: copy, check, count.

use std::path::Path;

use super::arg::args;
use super::{Db, StoreError, Tx};

macro_rules! tables {
    ($first:literal $(, $table:literal)*) => {
        /// All tables, in the order of the migrations.
        pub const TABLES: &[&str] = &[$first $(, $table)*];

        const COUNTS: &str = concat!(
            "SELECT '", $first, "' AS name, count(*) AS total FROM ", $first
            $(, " UNION ALL SELECT '", $table, "', count(*) FROM ", $table)*
        );
    };
}

tables!(
    "meta",
    "watershed",
    "reach",
    "gauge",
    "reach_gauge",
    "series",
    "reading",
    "taxon",
    "taxon_brood",
    "watershed_taxon",
    "record",
    "token",
    "token_watershed",
    "report",
    "looked_for",
    "sighting",
    "report_revision",
    "fit",
    "forecast",
    "skill",
    "idempotency",
    "job",
    "feed_event",
    "gauge_sync",
    "air_forecast",
    "notice",
    "feed_address",
    "private_feeds",
    "import_part",
    "record_source",
    "join_code",
    "token_join",
    "desk_session",
    "taxon_name",
    "report_photo"
);

/// The number of rows of every table, in the order of [`TABLES`].
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn table_counts(tx: &mut Tx) -> Result<Vec<(String, u64)>, StoreError> {
    let rows = tx.rows("sqlite_master", COUNTS, args![]).await?;
    let mut counts = Vec::with_capacity(rows.len());
    for row in &rows {
        counts.push((row.text("name")?, row.number("total")?));
    }
    counts.sort_by_key(|(name, _): &(String, u64)| TABLES.iter().position(|table| table == name));
    Ok(counts)
}

impl Db {
    /// What the database finds wrong with itself; empty when sound. On SQLite this reads the whole
    /// file. PostgreSQL checks its pages as it reads them, where made with checksums; there the list
    /// is empty.
    ///
    /// # Errors
    /// [`StoreError`] of the database.
    pub async fn integrity_faults(&self) -> Result<Vec<String>, StoreError> {
        let Self::Sqlite { readers, .. } = self else { return Ok(Vec::new()) };
        let found: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check").fetch_all(readers).await?;
        let orphans = sqlx::query("PRAGMA foreign_key_check").fetch_all(readers).await?.len();
        let mut faults: Vec<String> = found.into_iter().filter(|line| line != "ok").collect();
        if orphans > 0 {
            faults.push(format!("{orphans} rows refer to rows that are not there"));
        }
        Ok(faults)
    }

    /// Folds the write-ahead log into the file and empties it, so that what was erased is not in it
    /// either. A reader in the way leaves it for the next time. PostgreSQL looks after its own log.
    ///
    /// # Errors
    /// [`StoreError`] of the database.
    pub async fn fold_log(&self) -> Result<(), StoreError> {
        let Self::Sqlite { writer, .. } = self else { return Ok(()) };
        sqlx::query("PRAGMA wal_checkpoint(TRUNCATE)").execute(writer).await?;
        Ok(())
    }

    /// Writes a copy of one moment to the new file `to` while others go on reading and writing.
    ///
    /// # Errors
    /// [`StoreError::Unsupported`] on PostgreSQL, which has its own tools for this;
    /// [`StoreError::Database`] when the file exists or the disk is full.
    pub async fn copy_to(&self, to: &Path) -> Result<(), StoreError> {
        let Self::Sqlite { readers, .. } = self else {
            return Err(StoreError::Unsupported { what: "a copy into one file", database: self.kind() });
        };
        let path = to.to_str().ok_or(StoreError::Unstorable { reason: "a file name that is not text" })?;
        sqlx::query("VACUUM INTO $1").bind(path).execute(readers).await?;
        Ok(())
    }
}
