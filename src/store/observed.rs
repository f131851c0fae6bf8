//! Whether what was observed has changed.

use super::arg::args;
use super::{StoreError, Tx};

/// Text that is another one whenever records, accepted reports or the taxa of a watershed have changed.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn mark(tx: &mut Tx) -> Result<String, StoreError> {
    // Rows of records are only ever added; a change of a report counts its version up.
    const SQL: &str = "SELECT (SELECT coalesce(max(id), 0) FROM record) AS records, \
        (SELECT count(*) FROM report) AS reports, \
        (SELECT CAST(coalesce(sum(version), 0) AS BIGINT) FROM report) AS versions, \
        (SELECT count(*) FROM watershed_taxon) AS residents";
    let row = tx.row("record", SQL, args![]).await?.ok_or_else(|| StoreError::unknown("record", &"any"))?;
    let of = |name| row.int(name).map(|number| number.to_string());
    Ok([of("records")?, of("reports")?, of("versions")?, of("residents")?].join("/"))
}
