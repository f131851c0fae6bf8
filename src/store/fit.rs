//! Stored fits. They are added, and dropped once nothing can ask for them any more.

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use super::arg::{args, words};
use super::keys::{taxon_id, watershed_id};
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::{Fit, Slug};

/// What [`read_fit`] reads, of fit `f`, watershed `w` and taxon `t`, and where from.
macro_rules! SELECT {
    ($rest:literal) => {
        concat!(
            "SELECT f.id, w.slug AS watershed, t.slug AS taxon, f.brood, f.created_at, f.through_date, f.records, ",
            "f.years, f.prior_driven, f.weight_calendar, f.weight_thermal, f.weight_photothermal, f.weight_gated, ",
            "f.beats_calendar, f.widening, f.warnings, f.model ",
            "FROM fit f JOIN watershed w ON w.id = f.watershed_id JOIN taxon t ON t.id = f.taxon_id ",
            $rest
        )
    };
}

/// Stores a fit.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or taxon; [`StoreError::Conflict`] for a known id.
pub async fn insert_fit(tx: &mut Tx, fit: &Fit) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO fit (id, watershed_id, taxon_id, brood, created_at, through_date, records, years, \
        prior_driven, weight_calendar, weight_thermal, weight_photothermal, weight_gated, beats_calendar, model, \
        widening, warnings) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)";
    let watershed_id = watershed_id(tx, &fit.watershed).await?;
    let taxon_id = taxon_id(tx, &fit.taxon).await?;
    let [calendar, thermal, photothermal, gated] = fit.weights;
    let mut args = args![
        fit.id,
        watershed_id,
        taxon_id,
        fit.brood,
        fit.created_at,
        fit.through,
        fit.records,
        fit.years,
        fit.prior_driven,
        calendar,
        thermal,
        photothermal,
        gated,
        fit.beats_calendar,
        &fit.model_json,
        fit.widening,
    ];
    args.push(words(&fit.warnings));
    tx.execute(SQL, args).await?;
    Ok(())
}

/// The fit of that id, if any.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_fit(tx: &mut Tx, id: Uuid) -> Result<Option<Fit>, StoreError> {
    tx.row("fit", SELECT!("WHERE f.id = $1"), args![id]).await?.as_ref().map(read_fit).transpose()
}

/// The fit stored last for a taxon and brood in a watershed, whatever data it saw.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or taxon.
pub async fn latest_fit(tx: &mut Tx, watershed: &Slug, taxon: &Slug, brood: u8) -> Result<Option<Fit>, StoreError> {
    const SQL: &str =
        SELECT!("WHERE f.watershed_id = $1 AND f.taxon_id = $2 AND f.brood = $3 ORDER BY f.sequence DESC LIMIT 1");
    let (watershed_id, taxon_id) = (watershed_id(tx, watershed).await?, taxon_id(tx, taxon).await?);
    tx.row("fit", SQL, args![watershed_id, taxon_id, brood]).await?.as_ref().map(read_fit).transpose()
}

/// The fit to publish from: the last one that saw all data; the last one of any kind without such.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or taxon.
pub async fn fit_to_publish(tx: &mut Tx, watershed: &Slug, taxon: &Slug, brood: u8) -> Result<Option<Fit>, StoreError> {
    const SQL: &str = SELECT!(
        "WHERE f.watershed_id = $1 AND f.taxon_id = $2 AND f.brood = $3 \
         ORDER BY CASE WHEN f.through_date IS NULL THEN 0 ELSE 1 END, f.sequence DESC LIMIT 1"
    );
    let (watershed_id, taxon_id) = (watershed_id(tx, watershed).await?, taxon_id(tx, taxon).await?);
    tx.row("fit", SQL, args![watershed_id, taxon_id, brood]).await?.as_ref().map(read_fit).transpose()
}

/// The fits stored last by each of `watersheds` for every taxon and brood, those that are prior-driven aside; if `through`
/// is given, of fits that used nothing after it.
///
/// # Errors
/// [`StoreError::UnknownReference`] for a watershed.
pub async fn fits_with_records(
    tx: &mut Tx,
    watersheds: &[Slug],
    through: Option<NaiveDate>,
) -> Result<Vec<Fit>, StoreError> {
    const SQL: &str = SELECT!(
        "WHERE f.sequence IN (SELECT max(sequence) FROM fit WHERE watershed_id = $1 \
           AND (($2 IS NULL AND through_date IS NULL) OR through_date <= $2) GROUP BY taxon_id, brood) \
         AND f.prior_driven = 0 ORDER BY t.slug_key, f.brood"
    );
    let mut found = Vec::new();
    for watershed in watersheds {
        let watershed_id = watershed_id(tx, watershed).await?;
        let rows = tx.rows("fit", SQL, args![watershed_id, through]).await?;
        found.extend(rows.iter().map(read_fit).collect::<Result<Vec<_>, _>>()?);
    }
    Ok(found)
}

/// The fits stored last for every taxon and brood of a watershed, by taxon and brood.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn latest_fits(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Fit>, StoreError> {
    const SQL: &str = SELECT!(
        "WHERE f.sequence IN (SELECT max(sequence) FROM fit WHERE watershed_id = $1 GROUP BY taxon_id, brood) \
         ORDER BY t.slug_key, f.brood"
    );
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("fit", SQL, args![watershed_id]).await?.iter().map(read_fit).collect()
}

/// The fits to publish from ([`fit_to_publish`]) of every taxon and brood of a watershed, by taxon and brood.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn fits_to_publish(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Fit>, StoreError> {
    const SQL: &str = SELECT!(
        "WHERE f.sequence IN (SELECT COALESCE(max(CASE WHEN through_date IS NULL THEN sequence END), max(sequence)) \
         FROM fit WHERE watershed_id = $1 GROUP BY taxon_id, brood) ORDER BY t.slug_key, f.brood"
    );
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("fit", SQL, args![watershed_id]).await?.iter().map(read_fit).collect()
}

/// Factors on intervals by taxon and brood, of the last fits that saw all data; none for those stored
/// before it was kept.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn widenings(tx: &mut Tx, watershed: &Slug) -> Result<Vec<(Slug, u8, f64)>, StoreError> {
    const SQL: &str = "SELECT t.slug AS taxon, f.brood, f.widening FROM fit f JOIN taxon t ON t.id = f.taxon_id \
        WHERE f.sequence IN (SELECT max(sequence) FROM fit WHERE watershed_id = $1 AND through_date IS NULL \
        GROUP BY taxon_id, brood) AND f.widening IS NOT NULL ORDER BY t.slug_key, f.brood";
    let watershed_id = watershed_id(tx, watershed).await?;
    let rows = tx.rows("fit", SQL, args![watershed_id]).await?;
    rows.iter().map(|row| Ok((row.slug("taxon")?, row.number("brood")?, row.real("widening")?))).collect()
}

/// Up to `limit` fits of a watershed, or of one taxon there, last stored first.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or taxon.
pub async fn fits(tx: &mut Tx, watershed: &Slug, taxon: Option<&Slug>, limit: u32) -> Result<Vec<Fit>, StoreError> {
    const SQL: &str =
        SELECT!("WHERE f.watershed_id = $1 AND ($2 IS NULL OR f.taxon_id = $2) ORDER BY f.sequence DESC LIMIT $3");
    let watershed_id = watershed_id(tx, watershed).await?;
    let taxon_id = match taxon {
        Some(taxon) => Some(taxon_id(tx, taxon).await?),
        None => None,
    };
    tx.rows("fit", SQL, args![watershed_id, taxon_id, limit]).await?.iter().map(read_fit).collect()
}

/// The identifiers of the fits stored last for every taxon and brood of a watershed, in order.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn latest_fit_ids(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Uuid>, StoreError> {
    const SQL: &str = "SELECT id FROM fit WHERE sequence IN \
        (SELECT max(sequence) FROM fit WHERE watershed_id = $1 GROUP BY taxon_id, brood) ORDER BY id";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("fit", SQL, args![watershed_id]).await?.iter().map(|row| row.uuid("id")).collect()
}

/// Drops up to `most` fits that nothing asks for any more, oldest first; tells how many. A fit is kept that a published
/// forecast rests on, and one that is the last of its watershed, taxon and brood: of those that saw all data, or of those
/// that saw data up to some day (which a hindcast of any later day may ask for). What took its place must have been
/// stored before `since`, so that whoever works with a fit just replaced can end.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn drop_replaced_fits(tx: &mut Tx, since: DateTime<Utc>, most: u32) -> Result<u64, StoreError> {
    const SQL: &str = "DELETE FROM fit WHERE sequence IN (SELECT old.sequence FROM fit old \
        WHERE NOT EXISTS (SELECT 1 FROM forecast p WHERE p.fit_id = old.id) \
        AND EXISTS (SELECT 1 FROM fit later WHERE later.watershed_id = old.watershed_id \
        AND later.taxon_id = old.taxon_id AND later.brood = old.brood AND later.sequence > old.sequence \
        AND later.created_at < $1 AND ((old.through_date IS NULL AND later.through_date IS NULL) \
        OR later.through_date <= old.through_date)) ORDER BY old.sequence LIMIT $2)";
    tx.execute(SQL, args![since, most]).await
}

fn read_fit(row: &Row) -> Result<Fit, StoreError> {
    Ok(Fit {
        id: row.uuid("id")?,
        watershed: row.slug("watershed")?,
        taxon: row.slug("taxon")?,
        brood: row.number("brood")?,
        created_at: row.instant("created_at")?,
        through: row.opt_date("through_date")?,
        records: row.number("records")?,
        years: row.number("years")?,
        prior_driven: row.flag("prior_driven")?,
        weights: [
            row.real("weight_calendar")?,
            row.real("weight_thermal")?,
            row.real("weight_photothermal")?,
            row.real("weight_gated")?,
        ],
        beats_calendar: row.flag("beats_calendar")?,
        widening: row.opt_real("widening")?,
        warnings: row.words("warnings")?,
        model_json: row.text("model")?,
    })
}
