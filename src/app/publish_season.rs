//! Computes the running season for every reach and taxon and publishes it: what pages, JSON and
//! feeds are served from.

use chrono::{Datelike, NaiveDate};
use thiserror::Error;

use crate::clock::Clock;
use crate::domain::{Forecast, Slug, Taxon};
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

/// Publishes `only` (all fitted residents when empty) of a watershed for the season of `today`, from
/// all that is known now. Taxa without a fit of every brood are left out. Returns the forecasts.
///
/// # Errors
/// [`PublishError`]; what was published before stays.
pub async fn publish_season(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    only: &[Slug],
    today: NaiveDate,
) -> Result<Vec<Forecast>, PublishError> {
    let ready = fitted_residents(db, watershed, only).await?;
    if ready.is_empty() {
        return Ok(Vec::new());
    }
    let forecasts = forecast(db, clock, &of_today(watershed, &ready, today)).await?;
    for taxon in &ready {
        let own: Vec<Forecast> = forecasts.iter().filter(|f| f.taxon == taxon.slug).cloned().collect();
        let mut tx = db.write().await?;
        publish(&mut tx, watershed, taxon, &own, clock.now()).await?;
        tx.commit().await?;
    }
    Ok(forecasts)
}

/// The residents, of `only` when it names any, with a fit of every brood.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn fitted_residents(db: &Db, watershed: &Slug, only: &[Slug]) -> Result<Vec<Taxon>, StoreError> {
    let mut tx = db.read().await?;
    let fitted = fits::latest_fits(&mut tx, watershed).await?;
    let mut residents = taxon::residents(&mut tx, watershed).await?;
    residents.retain(|taxon| {
        let broods = fitted.iter().filter(|f| f.taxon == taxon.slug).count();
        (only.is_empty() || only.contains(&taxon.slug)) && broods >= brood_numbers(taxon).len()
    });
    Ok(residents)
}

/// What is published today of `taxa`, which are not none.
#[must_use]
pub fn of_today(watershed: &Slug, taxa: &[Taxon], today: NaiveDate) -> ForecastRequest {
    ForecastRequest {
        watershed: watershed.clone(),
        reach: None,
        taxa: taxa.iter().map(|t| t.slug.clone()).collect(),
        season: today.year(),
        as_of: None,
        today,
        fits: FitChoice::Published,
        in_season: true,
    }
}
