//! Computes the running season for every reach and taxon and publishes it: what pages, JSON and
//! feeds are served from.

use chrono::{Datelike, NaiveDate};
use thiserror::Error;

use crate::clock::Clock;
use crate::domain::{Forecast, Slug};
use crate::store::{Db, StoreError, fit as fits, taxon};

use super::AppError;
use super::fit::brood_numbers;
use super::forecast::{FitChoice, ForecastError, ForecastRequest, forecast};
use super::publish::publish;

/// Why nothing could be published.
#[derive(Debug, Error)]
pub enum PublishError {
    /// The forecast failed.
    #[error("the forecast failed")]
    Forecast(#[from] ForecastError),
    /// The database failed.
    #[error("the database failed")]
    Store(#[from] StoreError),
    /// The publication failed.
    #[error("the forecast could not be published")]
    Publish(#[from] AppError),
}

/// Publishes one taxon (all fitted residents when `None`) of a watershed for the season of `today`.
/// Taxa without a fit of every brood are left out. Returns the forecasts.
///
/// # Errors
/// [`PublishError`]; what was published before stays.
pub async fn publish_season(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    only: Option<&Slug>,
    today: NaiveDate,
) -> Result<Vec<Forecast>, PublishError> {
    let mut tx = db.read().await?;
    let fitted = fits::latest_fits(&mut tx, watershed).await?;
    let residents = taxon::residents(&mut tx, watershed).await?;
    drop(tx);
    let mut published = Vec::new();
    for taxon in residents.iter().filter(|t| only.is_none_or(|slug| *slug == t.slug)) {
        let fits = fitted.iter().filter(|f| f.taxon == taxon.slug).count();
        if fits < brood_numbers(taxon).len() {
            continue;
        }
        let request = ForecastRequest {
            watershed: watershed.clone(),
            reach: None,
            taxon: Some(taxon.slug.clone()),
            season: today.year(),
            as_of: Some(today),
            today,
            fits: FitChoice::Published,
            in_season: true,
        };
        let forecasts = forecast(db, clock, &request).await?;
        let mut tx = db.write().await?;
        publish(&mut tx, watershed, taxon, &forecasts, clock.now()).await?;
        tx.commit().await?;
        published.extend(forecasts);
    }
    Ok(published)
}
