//! A new day, new forecasts: publishes every watershed after each local midnight, and after fits that
//! were made elsewhere, for example on the command line. What another water has learned since is asked for first.

use std::collections::HashMap;
use std::sync::Arc;
use std::time::Duration;

use chrono::NaiveDate;
use tokio::sync::watch;
use uuid::Uuid;

use crate::app::drift::{DriftTally, judge_drift};
use crate::app::publish_season::publish_season;
use crate::app::{Service, WatershedView, due, neighbours};
use crate::clock::Clock;

/// How often the date and the fits are looked at.
const EVERY: Duration = Duration::from_mins(1);

/// What a publication was made for.
type Made = (NaiveDate, Vec<Uuid>);

/// Publishes what is due until `stop` turns true. A watershed that fails is tried again the next minute.
pub async fn publish_daily(service: Service, clock: Arc<dyn Clock>, mut stop: watch::Receiver<bool>) {
    let mut made: HashMap<String, Made> = HashMap::new();
    while !*stop.borrow() {
        for view in service.snapshot().watersheds() {
            let slug = &view.watershed.slug;
            match publish_if_due(&service, clock.as_ref(), view, made.get(&slug.key())).await {
                Ok(now) => {
                    made.insert(slug.key(), now);
                }
                Err(error) => {
                    tracing::error!(watershed = %slug, error = error.as_ref(), "nothing was published");
                }
            }
        }
        tokio::select! {
            _ = stop.changed() => {}
            () = tokio::time::sleep(EVERY) => {}
        }
    }
}

async fn publish_if_due(
    service: &Service,
    clock: &dyn Clock,
    view: &WatershedView,
    before: Option<&Made>,
) -> Result<Made, Box<dyn std::error::Error>> {
    let (slug, zone) = (&view.watershed.slug, view.watershed.time_zone);
    let now = (service.today(zone), due::latest_fit_ids(service.db(), slug).await?);
    if before != Some(&now) && due::is_due(service.db(), slug, zone, &now.1, now.0).await? {
        let drift = judge_drift(service.db(), slug, clock.now()).await?;
        if drift != DriftTally::default() {
            tracing::info!(watershed = %slug, doubted = drift.doubted, cleared = drift.cleared, "drifting gauges are judged");
        }
        let behind = neighbours::learn_again(service.db(), slug, clock.now()).await?;
        if !behind.is_empty() {
            tracing::info!(watershed = %slug, taxa = behind.len(), "other waters have learned more: fits are queued");
        }
        let forecasts = publish_season(service.db(), clock, slug, &[], now.0).await?;
        service.refresh().await?;
        tracing::info!(watershed = %slug, today = %now.0, forecasts = forecasts.len(), "forecasts are published");
    }
    Ok(now)
}
