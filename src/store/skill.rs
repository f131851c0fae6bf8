//! Stored skill of the forecasts of a taxon and brood, replaced when it is computed again.

use chrono::{DateTime, Utc};

use super::arg::args;
use super::forecast::raise_generation;
use super::keys::{taxon_id, watershed_id};
use super::{StoreError, Tx};
use crate::domain::Slug;

/// Scores of one taxon and brood, as JSON text that only the layer above reads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredSkill {
    /// The taxon.
    pub taxon: Slug,
    /// The brood, from 1.
    pub brood: u8,
    /// When it was computed.
    pub computed_at: DateTime<Utc>,
    /// The scores.
    pub scores_json: String,
}

/// Stores `skill` of `watershed` in place of what was there.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or taxon.
pub async fn put_skill(tx: &mut Tx, watershed: &Slug, skill: &StoredSkill) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO skill (watershed_id, taxon_id, brood, computed_at, scores) \
        VALUES ($1, $2, $3, $4, $5) ON CONFLICT (watershed_id, taxon_id, brood) \
        DO UPDATE SET computed_at = excluded.computed_at, scores = excluded.scores";
    let (watershed_id, taxon_id) = (watershed_id(tx, watershed).await?, taxon_id(tx, &skill.taxon).await?);
    let args = args![watershed_id, taxon_id, skill.brood, skill.computed_at, &skill.scores_json];
    tx.execute(SQL, args).await?;
    // Pages tell of every insect how its forecasts have done.
    raise_generation(tx).await
}

/// All stored skill of a watershed, by taxon and brood.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn skills(tx: &mut Tx, watershed: &Slug) -> Result<Vec<StoredSkill>, StoreError> {
    const SQL: &str = "SELECT t.slug AS taxon, s.brood, s.computed_at, s.scores FROM skill s \
        JOIN taxon t ON t.id = s.taxon_id WHERE s.watershed_id = $1 ORDER BY t.slug_key, s.brood";
    let watershed_id = watershed_id(tx, watershed).await?;
    let rows = tx.rows("skill", SQL, args![watershed_id]).await?;
    rows.iter()
        .map(|row| {
            Ok(StoredSkill {
                taxon: row.slug("taxon")?,
                brood: row.number("brood")?,
                computed_at: row.instant("computed_at")?,
                scores_json: row.text("scores")?,
            })
        })
        .collect()
}
