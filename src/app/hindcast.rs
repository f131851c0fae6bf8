//! Forecasts computed on request: of other seasons, or as of a past day.

use std::sync::Arc;

use tokio::sync::Semaphore;

use super::document::Faults;
use super::fit::FitError;
use super::forecast::{FitChoice, ForecastError, ForecastRequest, forecast};
use super::forecasts::{Forecasting, Hindcast, HindcastQuery};
use super::{AppError, Service};
use crate::clock::SystemClock;

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
            let one = |list: &[crate::domain::Slug]| (list.len() == 1).then(|| list[0].clone());
            let request = ForecastRequest {
                watershed: query.watershed.clone(),
                reach: one(&query.reaches),
                taxa: one(&query.taxa).into_iter().collect(),
                season: query.season,
                as_of: query.as_of,
                today,
                fits: FitChoice::Published,
                in_season: false,
                weigh_visits: false,
            };
            let mut found = forecast(service.db(), &SystemClock, &request).await.map_err(problem)?;
            found.retain(|f| {
                (query.reaches.is_empty() || query.reaches.contains(&f.reach))
                    && (query.taxa.is_empty() || query.taxa.contains(&f.taxon))
            });
            Ok(found)
        })
    }
}

fn problem(error: ForecastError) -> AppError {
    match error {
        ForecastError::NoReach(_) => AppError::not_found("reach"),
        ForecastError::NoTaxon(_) => AppError::not_found("taxon"),
        ForecastError::NoFit { .. } | ForecastError::OldFit(_) => {
            AppError::Unavailable { detail: "This taxon is still to be fitted.", retry_after_s: 60 }
        }
        ForecastError::Load(FitError::NoWatershed(_)) => AppError::not_found("watershed"),
        ForecastError::Season(_) => {
            let mut faults = Faults::default();
            faults.add_parameter("season", "out_of_range", "must be a year from 1900 to 2200");
            AppError::Query(faults)
        }
        other => AppError::Internal(format!("hindcast: {other:?}")),
    }
}
