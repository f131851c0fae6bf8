//! One gauge with the age of its readings and how fetching them went.

use std::sync::Arc;

use chrono::NaiveDate;
use chrono_tz::Tz;

use super::document::{FetchingDocument, GaugeDetailDocument, GaugeDocument, SeriesDocument};
use super::sync::source_of;
use super::{AppError, Service, WatershedView};
use crate::domain::{Gauge, Quantity, Reach, Watershed};
use crate::store::air::newest_air_forecast;
use crate::store::reading::newest_by_quantity;
use crate::store::sync::find_gauge_sync;

/// What is known of `gauge` now.
///
/// # Errors
/// [`AppError::Store`].
pub async fn gauge_detail(
    service: &Service,
    watershed: &Watershed,
    gauge: &Gauge,
) -> Result<GaugeDetailDocument, AppError> {
    let zone: Tz = watershed.time_zone;
    let today = service.today(zone);
    let mut tx = service.db().read().await?;
    let mut readings = Vec::new();
    for (quantity, newest) in newest_by_quantity(&mut tx, &watershed.slug, &gauge.slug).await? {
        let instant = newest.instant.map(|at| at.with_timezone(&zone).date_naive());
        if let Some(newest) = newest.day.max(instant) {
            let age_days = (today - newest).num_days();
            readings.push(SeriesDocument { quantity: quantity.as_str(), unit: quantity.unit(), newest, age_days });
        }
    }
    if let Some(made_at) = newest_air_forecast(&mut tx, &watershed.slug, &gauge.slug).await? {
        let newest = made_at.with_timezone(&zone).date_naive();
        let (unit, age_days) = (Quantity::AirTemperature.unit(), (today - newest).num_days());
        readings.push(SeriesDocument { quantity: "air_forecast", unit, newest, age_days });
    }
    let sync = find_gauge_sync(&mut tx, &watershed.slug, &gauge.slug).await?;
    // What was said of another source says nothing of this one.
    let source = source_of(gauge.source.as_deref()).map(|source| source.to_string());
    let fetching = sync.filter(|sync| source.as_ref() == Some(&sync.source)).map(FetchingDocument::from);
    Ok(GaugeDetailDocument { gauge: GaugeDocument::from(gauge), readings, fetching })
}

/// A gauge whose source could not be read the last time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SilentGauge {
    /// Display name.
    pub name: String,
    /// What went wrong, in words.
    pub failure: String,
    /// Local day on which it last went well.
    pub done_on: Option<NaiveDate>,
}

/// The gauges that `reach` goes by (all of the watershed where it names none) whose source could not be read the
/// last time.
///
/// # Errors
/// [`AppError::Store`].
pub async fn silent_gauges(
    service: &Service,
    view: &WatershedView,
    reach: &Reach,
) -> Result<Vec<SilentGauge>, AppError> {
    let own = |gauge: &&Arc<Gauge>| reach.gauges.is_empty() || reach.gauges.contains(&gauge.slug);
    let asked = |gauge: &&Arc<Gauge>| source_of(gauge.source.as_deref()).is_some();
    let gauges: Vec<_> = view.gauges.iter().filter(own).filter(asked).collect();
    if gauges.is_empty() {
        return Ok(Vec::new());
    }
    let mut tx = service.db().read().await?;
    let mut silent = Vec::new();
    for gauge in gauges {
        let sync = find_gauge_sync(&mut tx, &view.watershed.slug, &gauge.slug).await?;
        // What was said of another source says nothing of this one.
        let source = source_of(gauge.source.as_deref()).map(|source| source.to_string());
        let Some(sync) = sync.filter(|sync| source.as_ref() == Some(&sync.source)) else { continue };
        if let Some(failure) = sync.failure {
            let done_on = sync.done_at.map(|at| at.with_timezone(&view.watershed.time_zone).date_naive());
            silent.push(SilentGauge { name: gauge.name.clone(), failure, done_on });
        }
    }
    Ok(silent)
}
