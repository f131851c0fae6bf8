//! Fitting and publishing the demo while it is being served.

use chrono::Datelike as _;
use thiserror::Error;

use super::Demo;
use crate::app::fit::{FitError, FitRequest, TaxonOutcome, fit_watershed};
use crate::app::jobs::enqueue_skill;
use crate::app::publish_season::{PublishError, publish_season};
use crate::app::{AppError, FittingProgress, Service};
use crate::clock::Clock;
use crate::domain::{Slug, Taxon};
use crate::store::fit::latest_fits;
use crate::store::forecast::{ForecastFilter, forecasts};

/// Why the demo has no forecasts.
#[derive(Debug, Error)]
pub enum RunError {
    /// A fit failed.
    #[error("a fit failed")]
    Fit(#[from] FitError),
    /// The forecasts could not be published.
    #[error("the forecasts could not be published")]
    Publish(#[from] PublishError),
    /// What is served could not be read.
    #[error("what is served could not be read")]
    App(#[from] AppError),
}

/// Says what is still to be fitted, before the first page is served.
///
/// # Errors
/// [`RunError`] of the database.
pub async fn announce(service: &Service, demo: &Demo) -> Result<(), RunError> {
    let pending = pending(service, demo).await?;
    if !pending.is_empty() {
        let progress = FittingProgress { done: 0, total: pending.len(), pending };
        service.set_fitting(&demo.watershed, Some(progress));
    }
    Ok(())
}

/// Fits and publishes every taxon that has no forecast for the demo's today, those nearest to their
/// season first; `told` hears of each. Readiness is held until all are served.
///
/// # Errors
/// [`RunError`]; taxa published before the error stay served.
pub async fn fit_and_publish(
    service: &Service,
    clock: &dyn Clock,
    demo: &Demo,
    told: &(dyn Fn(&TaxonOutcome) + Sync),
) -> Result<(), RunError> {
    let pending = pending(service, demo).await?;
    let total = pending.len();
    for (done, taxon) in pending.iter().enumerate() {
        let rest = pending[done..].to_vec();
        service.set_fitting(&demo.watershed, Some(FittingProgress { done, total, pending: rest }));
        let request =
            FitRequest { watershed: demo.watershed.clone(), taxon: Some(taxon.clone()), through: Some(demo.today) };
        fit_watershed(service.db(), clock, &request, told).await?;
        publish_season(service.db(), clock, &demo.watershed, std::slice::from_ref(taxon), demo.today).await?;
        service.refresh().await?;
    }
    service.set_fitting(&demo.watershed, None);
    service.hold_readiness(false);
    if total > 0 {
        let mut tx = service.db().write().await.map_err(AppError::from)?;
        enqueue_skill(&mut tx, &demo.watershed, clock.now()).await.map_err(AppError::from)?;
        tx.commit().await.map_err(AppError::from)?;
    }
    Ok(())
}

/// The taxa without a published forecast as of the demo's today.
async fn pending(service: &Service, demo: &Demo) -> Result<Vec<Slug>, RunError> {
    let view = service.watershed(&demo.watershed)?;
    let mut tx = service.db().read().await.map_err(AppError::from)?;
    let filter = ForecastFilter { watershed: Some(demo.watershed.clone()), ..ForecastFilter::default() };
    let published = forecasts(&mut tx, &filter).await.map_err(AppError::from)?;
    // Fits that have seen everything up to the demo's today.
    let fits = latest_fits(&mut tx, &demo.watershed).await.map_err(AppError::from)?;
    let current: Vec<_> =
        fits.iter().filter(|f| f.through.is_none_or(|through| through >= demo.today)).map(|f| f.id).collect();
    let mut taxa: Vec<_> = view
        .taxa
        .iter()
        .filter(|taxon| !published.iter().any(|f| f.taxon == taxon.slug && current.contains(&f.fit_id)))
        .collect();
    taxa.sort_by_key(|taxon| days_off(taxon, demo.today.ordinal()));
    Ok(taxa.iter().map(|taxon| taxon.slug.clone()).collect())
}

/// Days from day of year `today` to the nearest prior median of the taxon's broods.
fn days_off(taxon: &Taxon, today: u32) -> u32 {
    let off = |brood: &crate::domain::Brood| (brood.median_day_of_year - f64::from(today)).abs() as u32;
    taxon.broods.iter().map(off).min().unwrap_or(u32::MAX)
}
