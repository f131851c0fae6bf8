//! Forgetting the person behind a token. What was observed stays; who observed it, and in what words,
//! does not.

use chrono::{DateTime, Utc};
use serde_json::Value;
use uuid::Uuid;

use super::arg::args;
use super::keys::need_token;
use super::{StoreError, Tx};

/// Stands where a name or a required word of the member's own stood.
pub const ERASED: &str = "erased";

/// What was gone through.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Erased {
    /// Reports of the member, withdrawn ones included.
    pub reports: u64,
    /// Earlier versions of reports.
    pub revisions: u64,
    /// Kept answers to requests.
    pub answers: u64,
}

/// Ends the token `id` at `now` and removes its name, the photos and the free text of its reports and of what they
/// said before, the reasons given with changes by it or of its reports, and the answers kept for it.
/// Reach, times, counts, classes and temperatures stay.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the token; [`StoreError::Corrupt`] for a stored version that
/// is not JSON.
pub async fn erase_member(tx: &mut Tx, id: Uuid, now: DateTime<Utc>) -> Result<Erased, StoreError> {
    const TOKEN: &str = "UPDATE token SET name = $2, revoked_at = COALESCE(revoked_at, $3), last_used_date = NULL \
        WHERE id = $1";
    const REPORTS: &str = "UPDATE report SET sky = NULL, note = NULL WHERE token_id = $1";
    const BEHAVIOUR: &str = "UPDATE sighting SET behaviour = NULL \
        WHERE report_id IN (SELECT id FROM report WHERE token_id = $1)";
    const PHOTOS: &str = "DELETE FROM report_photo WHERE report_id IN (SELECT id FROM report WHERE token_id = $1)";
    const COLOUR: &str = "UPDATE sighting SET described_colour = $2 WHERE described_colour IS NOT NULL \
        AND report_id IN (SELECT id FROM report WHERE token_id = $1)";
    const REASONS: &str = "UPDATE report_revision SET reason = NULL \
        WHERE changed_by = $1 OR report_id IN (SELECT id FROM report WHERE token_id = $1)";
    // The second part: the answer that a keeper got when making the token.
    const ANSWERS: &str = "DELETE FROM idempotency WHERE token_id = $1 OR location = $2";
    need_token(tx, id).await?;
    tx.execute(TOKEN, args![id, ERASED, now]).await?;
    let reports = tx.execute(REPORTS, args![id]).await?;
    tx.execute(PHOTOS, args![id]).await?;
    tx.execute(BEHAVIOUR, args![id]).await?;
    tx.execute(COLOUR, args![id, ERASED]).await?;
    tx.execute(REASONS, args![id]).await?;
    let answers = tx.execute(ANSWERS, args![id, format!("/v1/tokens/{id}")]).await?;
    let revisions = erase_revisions(tx, id).await?;
    Ok(Erased { reports, revisions, answers })
}

async fn erase_revisions(tx: &mut Tx, token: Uuid) -> Result<u64, StoreError> {
    const READ: &str = "SELECT v.report_id, v.version, v.document FROM report_revision v \
        JOIN report p ON p.id = v.report_id WHERE p.token_id = $1 ORDER BY v.report_id, v.version";
    const WRITE: &str = "UPDATE report_revision SET document = $3 WHERE report_id = $1 AND version = $2";
    let rows = tx.rows("report_revision", READ, args![token]).await?;
    for row in &rows {
        let (report, version) = (row.uuid("report_id")?, row.int("version")?);
        let document = without_words(&row.text("document")?).ok_or_else(|| row.corrupt("document", "is not JSON"))?;
        tx.execute(WRITE, args![report, version, document]).await?;
    }
    Ok(rows.len() as u64)
}

/// A stored version of a report without the member's words; `None` when it is not JSON.
fn without_words(document: &str) -> Option<String> {
    let mut value: Value = serde_json::from_str(document).ok()?;
    for member in ["sky", "note"] {
        value[member] = Value::Null;
    }
    for sighting in value["sightings"].as_array_mut().into_iter().flatten() {
        sighting["behaviour"] = Value::Null;
        if let Some(colour) = sighting.pointer_mut("/described/colour") {
            *colour = Value::from(ERASED);
        }
    }
    Some(value.to_string())
}
