//! Watersheds and gauges. Reaches are re-exported from their own file.

use super::arg::args;
use super::forecast::raise_generation;
use super::keys::{lock_watershed, watershed_id};
use super::row::Row;
use super::{StoreError, Tx, Upsert};
use crate::domain::{Gauge, Rights, Slug, Units, Watershed};

pub use super::place_reach::{find_reach, reaches, upsert_reach};

/// Holds a watershed until the transaction ends: others that would change it or its places wait, and then read what
/// was changed.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn hold_watershed(tx: &mut Tx, slug: &Slug) -> Result<(), StoreError> {
    lock_watershed(tx, slug).await.map(drop)
}

/// Tells every process, once the transaction commits, that places or taxa have changed. Call it last: until the end
/// nobody else can tell of a publication.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn tell_changed(tx: &mut Tx) -> Result<(), StoreError> {
    raise_generation(tx).await
}

/// Stores a watershed under its slug; the spelling of the first import is kept.
///
/// # Errors
/// [`StoreError::Conflict`] when another process makes it at the same moment.
pub async fn upsert_watershed(tx: &mut Tx, watershed: &Watershed) -> Result<Upsert, StoreError> {
    let Watershed { slug, name, time_zone, units } = watershed;
    match find_watershed(tx, slug).await? {
        None => {
            const SQL: &str = "INSERT INTO watershed (slug, slug_key, name, time_zone, units) \
                VALUES ($1, $2, $3, $4, $5)";
            tx.execute(SQL, args![slug, slug.key(), name, time_zone.name(), units.as_str()]).await?;
            Ok(Upsert::Created)
        }
        Some(known) if known == *watershed => Ok(Upsert::Unchanged),
        Some(_) => {
            const SQL: &str = "UPDATE watershed SET name = $2, time_zone = $3, units = $4 WHERE slug_key = $1";
            tx.execute(SQL, args![slug.key(), name, time_zone.name(), units.as_str()]).await?;
            Ok(Upsert::Updated)
        }
    }
}

/// All watersheds by slug.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn watersheds(tx: &mut Tx) -> Result<Vec<Watershed>, StoreError> {
    const SQL: &str = "SELECT slug, name, time_zone, units FROM watershed ORDER BY slug_key";
    tx.rows("watershed", SQL, args![]).await?.iter().map(read_watershed).collect()
}

/// The watershed of that slug, if any.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_watershed(tx: &mut Tx, slug: &Slug) -> Result<Option<Watershed>, StoreError> {
    const SQL: &str = "SELECT slug, name, time_zone, units FROM watershed WHERE slug_key = $1";
    tx.row("watershed", SQL, args![slug.key()]).await?.as_ref().map(read_watershed).transpose()
}

fn read_watershed(row: &Row) -> Result<Watershed, StoreError> {
    let zone = row.text("time_zone")?;
    let time_zone = zone.parse().map_err(|_| row.corrupt("time_zone", "is not an IANA time zone"))?;
    Ok(Watershed {
        slug: row.slug("slug")?,
        name: row.text("name")?,
        time_zone,
        units: row.word("units", Units::parse)?,
    })
}

/// Stores a gauge of `watershed` under its slug.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn upsert_gauge(tx: &mut Tx, watershed: &Slug, gauge: &Gauge) -> Result<Upsert, StoreError> {
    let watershed_id = lock_watershed(tx, watershed).await?;
    let Gauge { slug, name, latitude, longitude, source, rights: Rights { licence, citation } } = gauge;
    match find_gauge(tx, watershed, slug).await? {
        None => {
            const SQL: &str = "INSERT INTO gauge (watershed_id, slug, slug_key, name, latitude, longitude, source, \
                licence, citation) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)";
            let key = slug.key();
            let args = args![watershed_id, slug, key, name, latitude, longitude, source, licence, citation];
            tx.execute(SQL, args).await?;
            Ok(Upsert::Created)
        }
        Some(known) if known == *gauge => Ok(Upsert::Unchanged),
        Some(_) => {
            const SQL: &str = "UPDATE gauge SET name = $3, latitude = $4, longitude = $5, source = $6, licence = $7, \
                citation = $8 WHERE watershed_id = $1 AND slug_key = $2";
            let args = args![watershed_id, slug.key(), name, latitude, longitude, source, licence, citation];
            tx.execute(SQL, args).await?;
            Ok(Upsert::Updated)
        }
    }
}

/// All gauges of `watershed` by slug.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn gauges(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Gauge>, StoreError> {
    const SQL: &str = "SELECT slug, name, latitude, longitude, source, licence, citation FROM gauge \
        WHERE watershed_id = $1 ORDER BY slug_key";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("gauge", SQL, args![watershed_id]).await?.iter().map(read_gauge).collect()
}

/// The gauge of that slug in `watershed`, if any.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn find_gauge(tx: &mut Tx, watershed: &Slug, slug: &Slug) -> Result<Option<Gauge>, StoreError> {
    const SQL: &str = "SELECT slug, name, latitude, longitude, source, licence, citation FROM gauge \
        WHERE watershed_id = $1 AND slug_key = $2";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.row("gauge", SQL, args![watershed_id, slug.key()]).await?.as_ref().map(read_gauge).transpose()
}

fn read_gauge(row: &Row) -> Result<Gauge, StoreError> {
    Ok(Gauge {
        slug: row.slug("slug")?,
        name: row.text("name")?,
        latitude: row.opt_real("latitude")?,
        longitude: row.opt_real("longitude")?,
        source: row.opt_text("source")?,
        rights: Rights { licence: row.opt_text("licence")?, citation: row.opt_text("citation")? },
    })
}
