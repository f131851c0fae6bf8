//! From slugs to the numbers that rows refer to each other by.

use std::collections::HashMap;

use uuid::Uuid;

use super::arg::args;
use super::{StoreError, Tx};
use crate::domain::Slug;

/// Number of a watershed.
pub(super) async fn watershed_id(tx: &mut Tx, slug: &Slug) -> Result<i64, StoreError> {
    const SQL: &str = "SELECT id FROM watershed WHERE slug_key = $1";
    match tx.row("watershed", SQL, args![slug.key()]).await? {
        Some(row) => row.int("id"),
        None => Err(StoreError::unknown("watershed", slug)),
    }
}

/// Number of a watershed whose rows this transaction will write; other writers of them wait.
pub(super) async fn lock_watershed(tx: &mut Tx, slug: &Slug) -> Result<i64, StoreError> {
    let id = watershed_id(tx, slug).await?;
    let sql = tx.dialect().lock_watershed();
    tx.rows("watershed", sql, args![id]).await?;
    Ok(id)
}

/// Number of a reach.
pub(super) async fn reach_id(tx: &mut Tx, watershed_id: i64, slug: &Slug) -> Result<i64, StoreError> {
    const SQL: &str = "SELECT id FROM reach WHERE watershed_id = $1 AND slug_key = $2";
    match tx.row("reach", SQL, args![watershed_id, slug.key()]).await? {
        Some(row) => row.int("id"),
        None => Err(StoreError::unknown("reach", slug)),
    }
}

/// Number of a gauge.
pub(super) async fn gauge_id(tx: &mut Tx, watershed_id: i64, slug: &Slug) -> Result<i64, StoreError> {
    const SQL: &str = "SELECT id FROM gauge WHERE watershed_id = $1 AND slug_key = $2";
    match tx.row("gauge", SQL, args![watershed_id, slug.key()]).await? {
        Some(row) => row.int("id"),
        None => Err(StoreError::unknown("gauge", slug)),
    }
}

/// Number of a taxon.
pub(super) async fn taxon_id(tx: &mut Tx, slug: &Slug) -> Result<i64, StoreError> {
    const SQL: &str = "SELECT id FROM taxon WHERE slug_key = $1";
    match tx.row("taxon", SQL, args![slug.key()]).await? {
        Some(row) => row.int("id"),
        None => Err(StoreError::unknown("taxon", slug)),
    }
}

/// Refuses a token that is not there.
pub(super) async fn need_token(tx: &mut Tx, id: Uuid) -> Result<(), StoreError> {
    const SQL: &str = "SELECT id FROM token WHERE id = $1";
    let found = tx.row("token", SQL, args![id]).await?;
    found.map(drop).ok_or_else(|| StoreError::unknown("token", &id))
}

/// Refuses a fit that is not there.
pub(super) async fn need_fit(tx: &mut Tx, id: Uuid) -> Result<(), StoreError> {
    const SQL: &str = "SELECT id FROM fit WHERE id = $1";
    let found = tx.row("fit", SQL, args![id]).await?;
    found.map(drop).ok_or_else(|| StoreError::unknown("fit", &id))
}

/// Numbers by slug of one kind of thing, for work on many rows.
pub(super) struct Ids {
    what: &'static str,
    by_slug: HashMap<Slug, i64>,
}

impl Ids {
    /// All reaches of a watershed.
    pub(super) async fn reaches(tx: &mut Tx, watershed_id: i64) -> Result<Self, StoreError> {
        Self::load(tx, "reach", "SELECT id, slug FROM reach WHERE watershed_id = $1", Some(watershed_id)).await
    }

    /// All gauges of a watershed.
    pub(super) async fn gauges(tx: &mut Tx, watershed_id: i64) -> Result<Self, StoreError> {
        Self::load(tx, "gauge", "SELECT id, slug FROM gauge WHERE watershed_id = $1", Some(watershed_id)).await
    }

    /// All taxa.
    pub(super) async fn taxa(tx: &mut Tx) -> Result<Self, StoreError> {
        Self::load(tx, "taxon", "SELECT id, slug FROM taxon", None).await
    }

    async fn load(
        tx: &mut Tx,
        what: &'static str,
        sql: &'static str,
        watershed_id: Option<i64>,
    ) -> Result<Self, StoreError> {
        let args = watershed_id.map_or_else(Vec::new, |id| args![id]);
        let mut by_slug = HashMap::new();
        for row in tx.rows(what, sql, args).await? {
            by_slug.insert(row.slug("slug")?, row.int("id")?);
        }
        Ok(Self { what, by_slug })
    }

    /// The number of `slug`.
    pub(super) fn get(&self, slug: &Slug) -> Result<i64, StoreError> {
        self.by_slug.get(slug).copied().ok_or_else(|| StoreError::unknown(self.what, slug))
    }
}
