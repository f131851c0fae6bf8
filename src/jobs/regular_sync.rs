//! Water temperature arrives by itself: queues fetching every few hours, at no round hour.

use std::time::Duration;

use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use tokio::sync::watch;

use crate::app::jobs::enqueue_sync;
use crate::app::sync::source_of;
use crate::app::{AppError, Service, WatershedView};

/// Longest wait before the first fetch after a start.
const FIRST_WITHIN: Duration = Duration::from_mins(5);
/// By how much a pause may be longer or shorter than told, as a share.
const SCATTER: f64 = 0.1;

/// Queues fetching for every watershed that has a source, `every` so often, until `stop` turns true.
/// Pauses scatter by chance begun at `seed`, so that many programs do not ask at once.
pub async fn sync_regularly(service: Service, every: Duration, seed: u64, mut stop: watch::Receiver<bool>) {
    let mut dice = Pcg64::seed_from_u64(seed);
    let mut pause = FIRST_WITHIN.mul_f64(dice.random());
    while !*stop.borrow() {
        tokio::select! {
            _ = stop.changed() => continue,
            () = tokio::time::sleep(pause) => {}
        }
        for view in service.snapshot().watersheds() {
            if let Err(error) = queue(&service, view).await {
                tracing::error!(watershed = %view.watershed.slug, error = &error as &dyn std::error::Error,
                    "fetching was not queued");
            }
        }
        pause = scattered(every, dice.random());
    }
}

fn scattered(every: Duration, chance: f64) -> Duration {
    every.mul_f64(1.0 - SCATTER + 2.0 * SCATTER * chance)
}

async fn queue(service: &Service, view: &WatershedView) -> Result<(), AppError> {
    if !view.gauges.iter().any(|gauge| source_of(gauge.source.as_deref()).is_some()) {
        return Ok(());
    }
    let mut tx = service.db().write().await?;
    enqueue_sync(&mut tx, &view.watershed.slug, None, service.now()).await?;
    Ok(tx.commit().await?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_scatter_around_what_was_told() {
        let hour = Duration::from_hours(1);
        let minutes = |chance| scattered(hour, chance).as_secs_f64() / 60.0;
        assert!((minutes(0.0) - 54.0).abs() < 1e-6 && (minutes(1.0) - 66.0).abs() < 1e-6);
    }
}
