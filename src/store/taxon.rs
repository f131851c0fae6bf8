//! Taxa with traits and broods, and which of them live in a watershed.

use std::collections::HashMap;

use super::arg::args;
use super::keys::{taxon_id, watershed_id};
use super::row::Row;
use super::taxon_row::{COLUMNS, INSERT, UPDATE, read_name, read_taxon, taxon_args};
use super::{StoreError, Tx, Upsert};
use crate::domain::{Brood, Slug, Taxon, VernacularName};

/// Holds a taxon until the transaction ends: others that would change it wait, and then read what was changed.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn hold_taxon(tx: &mut Tx, slug: &Slug) -> Result<(), StoreError> {
    let sql = tx.dialect().lock_taxon();
    tx.rows("taxon", sql, args![slug.key()]).await.map(drop)
}

/// The watersheds that a taxon lives in, by slug.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn homes(tx: &mut Tx, taxon: &Slug) -> Result<Vec<Slug>, StoreError> {
    const SQL: &str = "SELECT w.slug FROM watershed_taxon wt JOIN taxon t ON t.id = wt.taxon_id \
        JOIN watershed w ON w.id = wt.watershed_id WHERE t.slug_key = $1 ORDER BY w.slug_key";
    tx.rows("watershed", SQL, args![taxon.key()]).await?.iter().map(|row| row.slug("slug")).collect()
}

/// Stores a taxon under its slug with all traits and broods.
///
/// # Errors
/// [`StoreError::Conflict`] when another process makes it at the same moment.
pub async fn upsert_taxon(tx: &mut Tx, taxon: &Taxon) -> Result<Upsert, StoreError> {
    let known = find_taxon(tx, &taxon.slug).await?;
    if known.as_ref() == Some(taxon) {
        return Ok(Upsert::Unchanged);
    }
    let upsert = if known.is_none() {
        tx.execute(INSERT, taxon_args(taxon)).await?;
        Upsert::Created
    } else {
        let mut values = taxon_args(taxon);
        values.pop();
        tx.execute(UPDATE, values).await?;
        Upsert::Updated
    };
    let id = taxon_id(tx, &taxon.slug).await?;
    tx.execute("DELETE FROM taxon_brood WHERE taxon_id = $1", args![id]).await?;
    for (position, brood) in (0_i64..).zip(&taxon.broods) {
        const SQL: &str = "INSERT INTO taxon_brood \
            (taxon_id, position, number, median_day_of_year, sd_days, provenance) VALUES ($1, $2, $3, $4, $5, $6)";
        let Brood { number, median_day_of_year, sd_days, provenance } = brood;
        tx.execute(SQL, args![id, position, *number, *median_day_of_year, *sd_days, provenance]).await?;
    }
    tx.execute("DELETE FROM taxon_name WHERE taxon_id = $1", args![id]).await?;
    for (position, known) in (0_i64..).zip(&taxon.names) {
        const SQL: &str =
            "INSERT INTO taxon_name (taxon_id, position, language, name, provenance) VALUES ($1, $2, $3, $4, $5)";
        let VernacularName { language, name, provenance } = known;
        tx.execute(SQL, args![id, position, language, name, provenance]).await?;
    }
    Ok(upsert)
}

/// All taxa by slug.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn taxa(tx: &mut Tx) -> Result<Vec<Taxon>, StoreError> {
    const SQL: &str = concat!("SELECT ", COLUMNS!(), " FROM taxon t ORDER BY t.slug_key");
    const BROODS: &str = "SELECT taxon_id, number, median_day_of_year, sd_days, provenance FROM taxon_brood \
        ORDER BY taxon_id, position";
    const NAMES: &str = "SELECT taxon_id, language, name, provenance FROM taxon_name ORDER BY taxon_id, position";
    let (rows, broods) = (tx.rows("taxon", SQL, args![]).await?, tx.rows("taxon_brood", BROODS, args![]).await?);
    whole(&rows, &broods, &tx.rows("taxon_name", NAMES, args![]).await?)
}

/// The taxon of that slug, if any.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_taxon(tx: &mut Tx, slug: &Slug) -> Result<Option<Taxon>, StoreError> {
    const SQL: &str = concat!("SELECT ", COLUMNS!(), " FROM taxon t WHERE t.slug_key = $1");
    const BROODS: &str = "SELECT taxon_id, number, median_day_of_year, sd_days, provenance FROM taxon_brood \
        WHERE taxon_id = $1 ORDER BY position";
    const NAMES: &str =
        "SELECT taxon_id, language, name, provenance FROM taxon_name WHERE taxon_id = $1 ORDER BY position";
    let rows = tx.rows("taxon", SQL, args![slug.key()]).await?;
    let Some(row) = rows.first() else { return Ok(None) };
    let broods = tx.rows("taxon_brood", BROODS, args![row.int("id")?]).await?;
    let names = tx.rows("taxon_name", NAMES, args![row.int("id")?]).await?;
    Ok(whole(&rows, &broods, &names)?.pop())
}

/// Says whether `taxon` lives in `watershed`.
///
/// # Errors
/// [`StoreError::UnknownReference`] for either.
pub async fn set_resident(tx: &mut Tx, watershed: &Slug, taxon: &Slug, resident: bool) -> Result<Upsert, StoreError> {
    const ADD: &str = "INSERT INTO watershed_taxon (watershed_id, taxon_id) VALUES ($1, $2) ON CONFLICT DO NOTHING";
    const DROP: &str = "DELETE FROM watershed_taxon WHERE watershed_id = $1 AND taxon_id = $2";
    let (watershed_id, taxon_id) = (watershed_id(tx, watershed).await?, taxon_id(tx, taxon).await?);
    let changed = tx.execute(if resident { ADD } else { DROP }, args![watershed_id, taxon_id]).await?;
    Ok(match (changed, resident) {
        (0, _) => Upsert::Unchanged,
        (_, true) => Upsert::Created,
        (_, false) => Upsert::Updated,
    })
}

/// The taxa that live in `watershed`, by slug.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn residents(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Taxon>, StoreError> {
    const SQL: &str = concat!(
        "SELECT ",
        COLUMNS!(),
        " FROM watershed_taxon wt JOIN taxon t ON t.id = wt.taxon_id WHERE wt.watershed_id = $1 ORDER BY t.slug_key"
    );
    const BROODS: &str = "SELECT b.taxon_id, b.number, b.median_day_of_year, b.sd_days, b.provenance \
        FROM watershed_taxon wt JOIN taxon_brood b ON b.taxon_id = wt.taxon_id \
        WHERE wt.watershed_id = $1 ORDER BY b.taxon_id, b.position";
    const NAMES: &str = "SELECT n.taxon_id, n.language, n.name, n.provenance \
        FROM watershed_taxon wt JOIN taxon_name n ON n.taxon_id = wt.taxon_id \
        WHERE wt.watershed_id = $1 ORDER BY n.taxon_id, n.position";
    let watershed_id = watershed_id(tx, watershed).await?;
    let rows = tx.rows("taxon", SQL, args![watershed_id]).await?;
    let broods = tx.rows("taxon_brood", BROODS, args![watershed_id]).await?;
    whole(&rows, &broods, &tx.rows("taxon_name", NAMES, args![watershed_id]).await?)
}

/// Taxa with their broods and names.
fn whole(rows: &[Row], brood_rows: &[Row], name_rows: &[Row]) -> Result<Vec<Taxon>, StoreError> {
    let mut names: HashMap<i64, Vec<VernacularName>> = HashMap::new();
    for row in name_rows {
        names.entry(row.int("taxon_id")?).or_default().push(read_name(row)?);
    }
    let mut broods: HashMap<i64, Vec<Brood>> = HashMap::new();
    for row in brood_rows {
        broods.entry(row.int("taxon_id")?).or_default().push(Brood {
            number: row.number("number")?,
            median_day_of_year: row.real("median_day_of_year")?,
            sd_days: row.real("sd_days")?,
            provenance: row.text("provenance")?,
        });
    }
    let read = |row: &Row| {
        let id = row.int("id")?;
        read_taxon(row, broods.remove(&id).unwrap_or_default(), names.remove(&id).unwrap_or_default())
    };
    rows.iter().map(read).collect()
}
