//! Reaches and the gauges they prefer.

use std::collections::HashMap;

use super::arg::args;
use super::keys::{Ids, lock_watershed, reach_id, watershed_id};
use super::row::Row;
use super::{StoreError, Tx, Upsert};
use crate::domain::{Reach, Slug, WaterType};

/// Stores a reach of `watershed` under its slug, with its gauges in order of preference.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or a gauge.
pub async fn upsert_reach(tx: &mut Tx, watershed: &Slug, reach: &Reach) -> Result<Upsert, StoreError> {
    let watershed_id = lock_watershed(tx, watershed).await?;
    let known = find_reach(tx, watershed, &reach.slug).await?;
    if known.as_ref() == Some(reach) {
        return Ok(Upsert::Unchanged);
    }
    let Reach { slug, name, latitude, longitude, elevation_m, water_type, gauges } = reach;
    let water_type = water_type.map(WaterType::as_str);
    let upsert = if known.is_none() {
        const SQL: &str = "INSERT INTO reach \
            (watershed_id, slug, slug_key, name, latitude, longitude, elevation_m, water_type) \
            VALUES ($1, $2, $3, $4, $5, $6, $7, $8)";
        let args = args![watershed_id, slug, slug.key(), name, *latitude, *longitude, elevation_m, water_type];
        tx.execute(SQL, args).await?;
        Upsert::Created
    } else {
        const SQL: &str = "UPDATE reach \
            SET name = $3, latitude = $4, longitude = $5, elevation_m = $6, water_type = $7 \
            WHERE watershed_id = $1 AND slug_key = $2";
        let args = args![watershed_id, slug.key(), name, *latitude, *longitude, elevation_m, water_type];
        tx.execute(SQL, args).await?;
        Upsert::Updated
    };
    let reach_id = reach_id(tx, watershed_id, slug).await?;
    let gauge_ids = Ids::gauges(tx, watershed_id).await?;
    tx.execute("DELETE FROM reach_gauge WHERE reach_id = $1", args![reach_id]).await?;
    for (preference, gauge) in (0_i64..).zip(gauges) {
        const SQL: &str = "INSERT INTO reach_gauge (reach_id, preference, gauge_id) VALUES ($1, $2, $3)";
        tx.execute(SQL, args![reach_id, preference, gauge_ids.get(gauge)?]).await?;
    }
    Ok(upsert)
}

/// All reaches of `watershed` by slug.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn reaches(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Reach>, StoreError> {
    const SQL: &str = "SELECT slug, name, latitude, longitude, elevation_m, water_type FROM reach \
        WHERE watershed_id = $1 ORDER BY slug_key";
    const GAUGES: &str = "SELECT r.slug AS reach, g.slug AS gauge FROM reach_gauge rg \
        JOIN reach r ON r.id = rg.reach_id JOIN gauge g ON g.id = rg.gauge_id \
        WHERE r.watershed_id = $1 ORDER BY rg.reach_id, rg.preference";
    let watershed_id = watershed_id(tx, watershed).await?;
    let mut gauges: HashMap<Slug, Vec<Slug>> = HashMap::new();
    for row in tx.rows("reach_gauge", GAUGES, args![watershed_id]).await? {
        gauges.entry(row.slug("reach")?).or_default().push(row.slug("gauge")?);
    }
    let rows = tx.rows("reach", SQL, args![watershed_id]).await?;
    rows.iter().map(|row| read_reach(row, gauges.remove(&row.slug("slug")?).unwrap_or_default())).collect()
}

/// The reach of that slug in `watershed`, if any.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn find_reach(tx: &mut Tx, watershed: &Slug, slug: &Slug) -> Result<Option<Reach>, StoreError> {
    const SQL: &str = "SELECT slug, id, name, latitude, longitude, elevation_m, water_type FROM reach \
        WHERE watershed_id = $1 AND slug_key = $2";
    const GAUGES: &str = "SELECT g.slug AS gauge FROM reach_gauge rg JOIN gauge g ON g.id = rg.gauge_id \
        WHERE rg.reach_id = $1 ORDER BY rg.preference";
    let watershed_id = watershed_id(tx, watershed).await?;
    let Some(row) = tx.row("reach", SQL, args![watershed_id, slug.key()]).await? else { return Ok(None) };
    let gauges = tx.rows("reach_gauge", GAUGES, args![row.int("id")?]).await?;
    let gauges = gauges.iter().map(|row| row.slug("gauge")).collect::<Result<_, _>>()?;
    read_reach(&row, gauges).map(Some)
}

fn read_reach(row: &Row, gauges: Vec<Slug>) -> Result<Reach, StoreError> {
    Ok(Reach {
        slug: row.slug("slug")?,
        name: row.text("name")?,
        latitude: row.real("latitude")?,
        longitude: row.real("longitude")?,
        elevation_m: row.opt_real("elevation_m")?,
        water_type: row.opt_word("water_type", WaterType::parse)?,
        gauges,
    })
}
