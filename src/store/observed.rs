//! Whether what was observed has changed.

use super::arg::args;
use super::{StoreError, Tx};

/// Text that is another one whenever records, accepted reports, or the time zone or the taxa of a watershed have changed.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn mark(tx: &mut Tx) -> Result<String, StoreError> {
    // Rows of records are only ever added; a change of a report counts its version up.
    const SQL: &str = "SELECT (SELECT coalesce(max(id), 0) FROM record) AS records, \
        (SELECT count(*) FROM report) AS reports, \
        (SELECT CAST(coalesce(sum(version), 0) AS BIGINT) FROM report) AS versions";
    const ZONES: &str = "SELECT id, time_zone FROM watershed ORDER BY id";
    const RESIDENTS: &str = "SELECT watershed_id, taxon_id FROM watershed_taxon ORDER BY watershed_id, taxon_id";
    let row = tx.row("record", SQL, args![]).await?.ok_or_else(|| StoreError::unknown("record", &"any"))?;
    let mut parts = Vec::new();
    for name in ["records", "reports", "versions"] {
        parts.push(row.int(name)?.to_string());
    }
    for row in tx.rows("watershed", ZONES, args![]).await? {
        parts.push(format!("{}={}", row.int("id")?, row.text("time_zone")?));
    }
    for row in tx.rows("watershed_taxon", RESIDENTS, args![]).await? {
        parts.push(format!("{}:{}", row.int("watershed_id")?, row.int("taxon_id")?));
    }
    Ok(parts.join("/"))
}
