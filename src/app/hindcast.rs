//! Forecasts computed on request: of other seasons, or as of a past day.

use std::sync::Arc;

use tokio::sync::Semaphore;

use super::document::Faults;
use super::fit::FitError;
use super::forecast::{FitChoice, ForecastError, ForecastRequest, forecast};
use super::forecasts::{Forecasting, Hindcast, HindcastQuery};
use super::publish_season::fitted_residents;
use super::{AppError, Service};

/// Hindcasts computed at once; whole seasons of every reach take seconds of all cores.
const AT_ONCE: usize = 2;

/// Computes in this process, a few at a time.
#[derive(Debug, Clone)]
pub struct ComputedHere {
    turns: Arc<Semaphore>,
}

impl Default for ComputedHere {
    fn default() -> Self {
        Self { turns: Arc::new(Semaphore::new(AT_ONCE)) }
    }
}

impl Hindcast for ComputedHere {
    fn forecast(&self, service: &Service, query: HindcastQuery) -> Forecasting<'_> {
        let service = service.clone();
        let turns = Arc::clone(&self.turns);
        Box::pin(async move {
            let _turn = turns.try_acquire().map_err(|_| AppError::Unavailable {
                detail: "Other past forecasts are being computed. Ask again in a moment.",
                retry_after_s: 5,
            })?;
            let view = service.watershed(&query.watershed)?;
            let today = service.today(view.watershed.time_zone);
            if query.taxa.iter().any(|slug| !view.taxa.iter().any(|taxon| taxon.slug == *slug)) {
                return Err(AppError::not_found("taxon"));
            }
            // As in what is published: a taxon that is still to be fitted is left out, and keeps no other waiting.
            let ready = fitted_residents(service.db(), &query.watershed, &query.taxa).await?.ready;
            if ready.is_empty() {
                return if view.taxa.is_empty() { Ok(Vec::new()) } else { Err(to_be_fitted()) };
            }
            let request = ForecastRequest {
                watershed: query.watershed.clone(),
                reach: (query.reaches.len() == 1).then(|| query.reaches[0].clone()),
                taxa: ready.into_iter().map(|taxon| taxon.slug).collect(),
                season: query.season,
                as_of: query.as_of,
                today,
                fits: FitChoice::Published,
                in_season: false,
                weigh_visits: false,
            };
            let mut found = forecast(service.db(), service.clock(), &request).await.map_err(problem)?;
            found.retain(|f| query.reaches.is_empty() || query.reaches.contains(&f.reach));
            Ok(found)
        })
    }
}

fn to_be_fitted() -> AppError {
    AppError::Unavailable { detail: "This taxon is still to be fitted.", retry_after_s: 60 }
}

fn problem(error: ForecastError) -> AppError {
    match error {
        ForecastError::NoReach(_) => AppError::not_found("reach"),
        ForecastError::NoTaxon(_) => AppError::not_found("taxon"),
        ForecastError::NoFit { .. } | ForecastError::OldFit(_) => to_be_fitted(),
        ForecastError::Load(FitError::NoWatershed(_)) => AppError::not_found("watershed"),
        ForecastError::Season(_) => {
            let mut faults = Faults::default();
            faults.add_parameter("season", "out_of_range", "must be a year from 1900 to 2200");
            AppError::Query(faults)
        }
        other => AppError::Internal(format!("hindcast: {other:?}")),
    }
}
