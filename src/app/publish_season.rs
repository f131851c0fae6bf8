//! Computes the running season for every reach and taxon and publishes it: what pages, JSON and
//! feeds are served from.

use chrono::NaiveDate;
use thiserror::Error;

use crate::clock::Clock;
use crate::domain::season::{Cycle, WhichSeason};
use crate::domain::{Forecast, Slug, Taxon};
use crate::model::emergence::FittedForm;
use crate::store::{Db, StoreError, fit as fits, taxon};

use super::AppError;
use super::document::fit::FitRequest;
use super::fit::brood_numbers;
use super::forecast::{FitChoice, ForecastError, ForecastRequest, forecast};
use super::jobs::enqueue_fit;
use super::publish::publish_among;
use super::sightings::Sightings;

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
/// all that is known now. Taxa without a fit of every brood are left out. Those whose fit is of another
/// version of the program keep what is published and have a fit queued. Returns the forecasts.
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
    let Residents { ready, outdated } = fitted_residents(db, watershed, only).await?;
    if !outdated.is_empty() {
        fit_again(db, clock, watershed, outdated).await?;
    }
    if ready.is_empty() {
        return Ok(Vec::new());
    }
    let forecasts = forecast(db, clock, &of_today(watershed, &ready, today)).await?;
    let sightings = Sightings::load(&mut db.read().await?, watershed).await?;
    for taxon in &ready {
        let own: Vec<Forecast> = forecasts.iter().filter(|f| f.taxon == taxon.slug).cloned().collect();
        let mut tx = db.write().await?;
        publish_among(&mut tx, watershed, taxon, &own, &sightings, clock.now()).await?;
        tx.commit().await?;
    }
    Ok(forecasts)
}

async fn fit_again(db: &Db, clock: &dyn Clock, watershed: &Slug, taxa: Vec<Taxon>) -> Result<(), PublishError> {
    let mut tx = db.write().await?;
    for taxon in taxa {
        tracing::warn!(%watershed, taxon = %taxon.slug, "the stored fit is of another version and is made again");
        let request = FitRequest { taxon: Some(taxon.slug) };
        enqueue_fit(&mut tx, watershed, &request, clock.now()).await?;
    }
    Ok(tx.commit().await?)
}

/// Residents with a fit of every brood.
#[derive(Debug, Clone, Default)]
pub struct Residents {
    /// Those that forecasts can be made of.
    pub ready: Vec<Taxon>,
    /// Those with a fit that another version of the program stored.
    pub outdated: Vec<Taxon>,
}

/// The residents, of `only` when it names any, with a fit of every brood.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn fitted_residents(db: &Db, watershed: &Slug, only: &[Slug]) -> Result<Residents, StoreError> {
    let mut tx = db.read().await?;
    let mut found = Residents::default();
    let residents = taxon::residents(&mut tx, watershed).await?;
    for taxon in residents.into_iter().filter(|taxon| only.is_empty() || only.contains(&taxon.slug)) {
        let (mut complete, mut current) = (true, true);
        for brood in brood_numbers(&taxon) {
            match fits::fit_to_publish(&mut tx, watershed, &taxon.slug, brood).await? {
                Some(fit) => current &= FittedForm::is_current(&fit.model_json, Cycle::of(&taxon)),
                None => complete = false,
            }
        }
        match (complete, current) {
            (true, true) => found.ready.push(taxon),
            (true, false) => found.outdated.push(taxon),
            (false, _) => {}
        }
    }
    Ok(found)
}

/// What is published today of `taxa`, which are not none.
#[must_use]
pub fn of_today(watershed: &Slug, taxa: &[Taxon], today: NaiveDate) -> ForecastRequest {
    ForecastRequest {
        watershed: watershed.clone(),
        reach: None,
        taxa: taxa.iter().map(|t| t.slug.clone()).collect(),
        season: WhichSeason::On(today),
        as_of: None,
        today,
        fits: FitChoice::Published,
        in_season: true,
    }
}
