//! Computes the running season for every reach and taxon and publishes it: what pages, JSON and
//! feeds are served from.

use chrono::NaiveDate;
use rayon::prelude::*;
use thiserror::Error;

use crate::clock::Clock;
use crate::domain::season::{Cycle, WhichSeason};
use crate::domain::{Forecast, Slug, Taxon};
use crate::model::emergence::FittedForm;
use crate::store::{Db, StoreError, fit as fits, place};

use super::AppError;
use super::document::fit::FitRequest;
use super::fit::brood_numbers;
use super::fit_window;
use super::forecast::{FitChoice, ForecastError, ForecastRequest, forecast};
use super::issue::Issue;
use super::jobs::enqueue_fit;
use super::publish::publish_all;
use super::sightings::Sightings;
use super::threads;

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
/// all that is known now, all taxa in one transaction. Taxa without a fit of every brood are left out. Those whose fit is of another
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
    let (reaches, sightings) = {
        let mut tx = db.read().await?;
        (place::reaches(&mut tx, watershed).await?, Sightings::load(&mut tx, watershed).await?)
    };
    let slug = watershed.clone();
    let written = threads::at_once(move || {
        let write = |taxon: Taxon| {
            let own: Vec<&Forecast> = forecasts.iter().filter(|forecast| forecast.taxon == taxon.slug).collect();
            Issue::new(&slug, &reaches, taxon, own)
        };
        let issues: Vec<Issue> = ready.into_par_iter().map(write).collect::<Result<_, AppError>>()?;
        Ok::<_, AppError>((issues, forecasts))
    });
    let (issues, forecasts) = written.await.map_err(|_| ForecastError::CutOff)??;
    let mut tx = db.write().await?;
    publish_all(&mut tx, watershed, &issues, &sightings, clock.now()).await?;
    tx.commit().await?;
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
    let residents = fit_window::residents(&mut tx, watershed).await?;
    for taxon in residents.into_iter().filter(|taxon| only.is_empty() || only.contains(&taxon.slug)) {
        let (mut complete, mut current) = (true, true);
        for brood in brood_numbers(&taxon) {
            match fits::fit_to_publish(&mut tx, watershed, &taxon.slug, brood).await? {
                Some(fit) => current &= FittedForm::is_current(&fit.model_json, Cycle::of_brood(&taxon, brood)),
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
        weigh_visits: false,
    }
}
