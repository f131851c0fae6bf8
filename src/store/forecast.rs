//! Published forecasts: whole documents, ready to be served.

use std::collections::{HashMap, HashSet};

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use super::arg::args;
use super::dialect::insert_many;
use super::keys::{Ids, lock_watershed, need_fit, taxon_id, watershed_id};
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::Slug;

/// The `meta` key that counts publications.
const GENERATION: &str = "forecast_generation";

/// One published forecast: a reach, taxon, brood and season.
#[derive(Debug, Clone, PartialEq)]
pub struct PublishedForecast {
    /// Watershed.
    pub watershed: Slug,
    /// Reach.
    pub reach: Slug,
    /// Taxon.
    pub taxon: Slug,
    /// Brood, from 1.
    pub brood: u8,
    /// Season.
    pub season: i32,
    /// The fit behind it.
    pub fit_id: Uuid,
    /// When it was computed.
    pub issued_at: DateTime<Utc>,
    /// The last day whose data it used.
    pub data_as_of: NaiveDate,
    /// Entity tag of the document.
    pub etag: String,
    /// The document as JSON text.
    pub document_json: String,
}

/// Which published forecasts to list; what is `None` does not limit.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ForecastFilter {
    /// Of this watershed.
    pub watershed: Option<Slug>,
    /// Of this reach.
    pub reach: Option<Slug>,
    /// Of this taxon.
    pub taxon: Option<Slug>,
    /// Of this season.
    pub season: Option<i32>,
}

/// Replaces everything published for a taxon in a watershed, all reaches, broods and seasons, by
/// `forecasts`, and raises the generation that [`forecast_generation`] tells.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed, taxon, a reach or a fit;
/// [`StoreError::Conflict`] when a forecast is of another watershed or taxon, or given twice.
pub async fn replace_forecasts(
    tx: &mut Tx,
    watershed: &Slug,
    taxon: &Slug,
    forecasts: &[PublishedForecast],
) -> Result<(), StoreError> {
    const DELETE: &str = "DELETE FROM forecast WHERE watershed_id = $1 AND taxon_id = $2";
    const HEAD: &str = "INSERT INTO forecast (watershed_id, taxon_id, reach_id, brood, season, fit_id, issued_at, \
        data_as_of_date, etag, document) VALUES ";
    let watershed_id = lock_watershed(tx, watershed).await?;
    let taxon_id = taxon_id(tx, taxon).await?;
    let reaches = Ids::reaches(tx, watershed_id).await?;
    tx.execute(DELETE, args![watershed_id, taxon_id]).await?;
    let mut rows = Vec::with_capacity(forecasts.len());
    let mut fits = HashSet::new();
    for forecast in forecasts {
        if forecast.watershed != *watershed || forecast.taxon != *taxon {
            return Err(StoreError::conflict("forecast of another watershed or taxon"));
        }
        if fits.insert(forecast.fit_id) {
            need_fit(tx, forecast.fit_id).await?;
        }
        rows.push(args![
            watershed_id,
            taxon_id,
            reaches.get(&forecast.reach)?,
            forecast.brood,
            forecast.season,
            forecast.fit_id,
            forecast.issued_at,
            forecast.data_as_of,
            &forecast.etag,
            &forecast.document_json,
        ]);
    }
    insert_many(tx, HEAD, rows).await?;
    raise_generation(tx).await
}

/// When the newest of what is published for each taxon of a watershed was issued. Until the transaction ends nobody
/// else publishes for the watershed.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn newest_issues_by_taxon(tx: &mut Tx, watershed: &Slug) -> Result<HashMap<Slug, DateTime<Utc>>, StoreError> {
    const SQL: &str = "SELECT t.slug AS taxon, max(f.issued_at) AS issued_at FROM forecast f \
        JOIN taxon t ON t.id = f.taxon_id WHERE f.watershed_id = $1 GROUP BY t.slug";
    let watershed_id = lock_watershed(tx, watershed).await?;
    let rows = tx.rows("forecast", SQL, args![watershed_id]).await?;
    rows.iter().map(|row| Ok((row.slug("taxon")?, row.instant("issued_at")?))).collect()
}

/// The fits that published forecasts of a watershed rest on, each with when the newest of these was issued.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn newest_issues_by_fit(tx: &mut Tx, watershed: &Slug) -> Result<Vec<(Uuid, DateTime<Utc>)>, StoreError> {
    const SQL: &str =
        "SELECT fit_id, max(issued_at) AS issued_at FROM forecast WHERE watershed_id = $1 GROUP BY fit_id";
    let watershed_id = watershed_id(tx, watershed).await?;
    let rows = tx.rows("forecast", SQL, args![watershed_id]).await?;
    rows.iter().map(|row| Ok((row.uuid("fit_id")?, row.instant("issued_at")?))).collect()
}

/// Published forecasts by watershed, reach, taxon, brood and season.
///
/// # Errors
/// [`StoreError`] of the database. A slug that nothing bears gives an empty list.
pub async fn forecasts(tx: &mut Tx, filter: &ForecastFilter) -> Result<Vec<PublishedForecast>, StoreError> {
    const SQL: &str = "SELECT f.etag, w.slug AS watershed, e.slug AS reach, t.slug AS taxon, f.brood, f.season, \
        f.fit_id, f.issued_at, f.data_as_of_date, f.document \
        FROM forecast f JOIN watershed w ON w.id = f.watershed_id JOIN reach e ON e.id = f.reach_id \
        JOIN taxon t ON t.id = f.taxon_id \
        WHERE ($1 IS NULL OR w.slug_key = $1) AND ($2 IS NULL OR e.slug_key = $2) \
        AND ($3 IS NULL OR t.slug_key = $3) AND ($4 IS NULL OR f.season = $4) \
        ORDER BY w.slug_key, e.slug_key, t.slug_key, f.brood, f.season";
    let key = |slug: &Option<Slug>| slug.as_ref().map(Slug::key);
    let args = args![key(&filter.watershed), key(&filter.reach), key(&filter.taxon), filter.season];
    tx.rows("forecast", SQL, args).await?.iter().map(read_forecast).collect()
}

/// Reach and entity tag of everything published for a watershed, in the order of [`forecasts`].
///
/// # Errors
/// [`StoreError`] of the database. A slug that nothing bears gives an empty list.
pub async fn forecast_tags(tx: &mut Tx, watershed: &Slug) -> Result<Vec<(Slug, String)>, StoreError> {
    const SQL: &str = "SELECT e.slug AS reach, f.etag FROM forecast f JOIN watershed w ON w.id = f.watershed_id \
        JOIN reach e ON e.id = f.reach_id JOIN taxon t ON t.id = f.taxon_id WHERE w.slug_key = $1 \
        ORDER BY e.slug_key, t.slug_key, f.brood, f.season";
    let rows = tx.rows("forecast", SQL, args![watershed.key()]).await?;
    rows.iter().map(|row| Ok((row.slug("reach")?, row.text("etag")?))).collect()
}

fn read_forecast(row: &Row) -> Result<PublishedForecast, StoreError> {
    Ok(PublishedForecast {
        watershed: row.slug("watershed")?,
        reach: row.slug("reach")?,
        taxon: row.slug("taxon")?,
        brood: row.number("brood")?,
        season: row.number("season")?,
        fit_id: row.uuid("fit_id")?,
        issued_at: row.instant("issued_at")?,
        data_as_of: row.date("data_as_of_date")?,
        etag: row.text("etag")?,
        document_json: row.text("document")?,
    })
}

/// A number that grows with every publication, so that a copy in memory knows when it is old.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn forecast_generation(tx: &mut Tx) -> Result<i64, StoreError> {
    const SQL: &str = "SELECT key, value FROM meta WHERE key = $1";
    let Some(row) = tx.row("meta", SQL, args![GENERATION]).await? else { return Ok(0) };
    row.text("value")?.parse().map_err(|_| row.corrupt("value", "is not a whole number"))
}

/// Tells every process that what is served has changed.
pub(super) async fn raise_generation(tx: &mut Tx) -> Result<(), StoreError> {
    // The row must exist before it is raised in one statement: two publications of different
    // watersheds may run at once on PostgreSQL.
    const FIRST: &str = "INSERT INTO meta (key, value) VALUES ($1, '0') ON CONFLICT (key) DO NOTHING";
    const RAISE: &str = "UPDATE meta SET value = CAST(CAST(value AS BIGINT) + 1 AS TEXT) WHERE key = $1";
    tx.execute(FIRST, args![GENERATION]).await?;
    tx.execute(RAISE, args![GENERATION]).await?;
    if let Some(sql) = tx.dialect().notify_forecasts() {
        tx.rows("forecast", sql, args![]).await?;
    }
    Ok(())
}
