//! Forecasts of the air: each as it was made, and when it was known.

use chrono::{DateTime, NaiveDate, Utc};

use super::arg::args;
use super::keys::{gauge_id, lock_watershed, watershed_id};
use super::row::Row;
use super::since::cut_off;
use super::{StoreError, Tx};
use crate::domain::Slug;
use crate::domain::air::{AirDay, AirIssue, WeatherHour};

/// Keeps a forecast; false when the one made at that instant is there already.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or the gauge.
pub async fn put_air_forecast(tx: &mut Tx, watershed: &Slug, issue: &AirIssue) -> Result<bool, StoreError> {
    const FIND: &str = "SELECT made_at FROM air_forecast WHERE gauge_id = $1 AND made_at = $2";
    const ADD: &str =
        "INSERT INTO air_forecast (gauge_id, made_at, known_at, source, days, hours) VALUES ($1, $2, $3, $4, $5, $6)";
    let watershed_id = lock_watershed(tx, watershed).await?;
    let gauge_id = gauge_id(tx, watershed_id, &issue.gauge).await?;
    if tx.row("air_forecast", FIND, args![gauge_id, issue.made_at]).await?.is_some() {
        return Ok(false);
    }
    let day = |day: &AirDay| serde_json::json!([day.date.to_string(), day.tmean_c, day.tmin_c, day.tmax_c]);
    let days = issue.days.iter().map(day).collect::<serde_json::Value>().to_string();
    let hour = |hour: &WeatherHour| {
        serde_json::json!([hour.at.timestamp(), hour.air_c, hour.wind_kmh, hour.cloud, hour.rain_mm])
    };
    let hours = issue.hours.iter().map(hour).collect::<serde_json::Value>().to_string();
    tx.execute(ADD, args![gauge_id, issue.made_at, issue.known_at, &issue.source, days, hours]).await?;
    Ok(true)
}

/// The forecasts for a gauge that were known by `known_by` (all when `None`), in the order they were made in.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or the gauge.
pub async fn air_forecasts(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
    known_by: Option<DateTime<Utc>>,
) -> Result<Vec<AirIssue>, StoreError> {
    const SQL: &str = "SELECT made_at, known_at, source, days, hours FROM air_forecast \
        WHERE gauge_id = $1 AND known_at <= $2 ORDER BY made_at";
    let watershed_id = watershed_id(tx, watershed).await?;
    let gauge_id = gauge_id(tx, watershed_id, gauge).await?;
    let rows = tx.rows("air_forecast", SQL, args![gauge_id, cut_off(known_by)]).await?;
    rows.iter().map(|row| read(row, gauge)).collect()
}

/// When the newest forecast for a gauge was made.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or the gauge.
pub async fn newest_air_forecast(
    tx: &mut Tx,
    watershed: &Slug,
    gauge: &Slug,
) -> Result<Option<DateTime<Utc>>, StoreError> {
    const SQL: &str = "SELECT made_at FROM air_forecast WHERE gauge_id = $1 ORDER BY made_at DESC LIMIT 1";
    let watershed_id = watershed_id(tx, watershed).await?;
    let gauge_id = gauge_id(tx, watershed_id, gauge).await?;
    tx.row("air_forecast", SQL, args![gauge_id]).await?.as_ref().map(|row| row.instant("made_at")).transpose()
}

fn read(row: &Row, gauge: &Slug) -> Result<AirIssue, StoreError> {
    let wrong = || row.corrupt("days", "is not a list of days");
    let list: Vec<(NaiveDate, f64, f64, f64)> = serde_json::from_str(&row.text("days")?).map_err(|_| wrong())?;
    let day = |(date, tmean_c, tmin_c, tmax_c)| AirDay { date, tmean_c, tmin_c, tmax_c };
    Ok(AirIssue {
        gauge: gauge.clone(),
        made_at: row.instant("made_at")?,
        known_at: row.instant("known_at")?,
        source: row.text("source")?,
        days: list.into_iter().map(day).collect(),
        hours: read_hours(row)?,
    })
}

/// Forecasts kept before hours were have none.
fn read_hours(row: &Row) -> Result<Vec<WeatherHour>, StoreError> {
    type Stored = (i64, f64, Option<f64>, Option<f64>, Option<f64>);
    let wrong = || row.corrupt("hours", "is not a list of hours");
    let Some(text) = row.opt_text("hours")? else { return Ok(Vec::new()) };
    let list: Vec<Stored> = serde_json::from_str(&text).map_err(|_| wrong())?;
    let hour = |(at, air_c, wind_kmh, cloud, rain_mm)| {
        let at = DateTime::from_timestamp(at, 0).ok_or_else(wrong)?;
        Ok(WeatherHour { at, air_c, wind_kmh, cloud, rain_mm })
    };
    list.into_iter().map(hour).collect()
}
