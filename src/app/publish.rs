//! Publishes forecasts: computes the running season for every reach and taxon and stores the
//! documents that pages, JSON and feeds are served from.

use chrono::{Datelike, NaiveDate};
use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::clock::Clock;
use crate::domain::{Forecast, Slug};
use crate::store::forecast::{PublishedForecast, replace_forecasts};
use crate::store::{Db, StoreError, fit as fits, taxon};

use super::document::forecast::ForecastDocument;
use super::forecast::{ForecastError, ForecastRequest, forecast};

/// Why nothing could be published.
#[derive(Debug, Error)]
pub enum PublishError {
    /// The forecast failed.
    #[error("the forecast failed")]
    Forecast(#[from] ForecastError),
    /// The database failed.
    #[error("the database failed")]
    Store(#[from] StoreError),
    /// A document could not be written as text.
    #[error("a forecast could not be written as text")]
    Text(#[from] serde_json::Error),
}

/// Publishes one taxon (all fitted residents when `None`) of a watershed for the season of `today`.
/// Taxa without a fit are left out. Returns the forecasts.
///
/// # Errors
/// [`PublishError`]; what was published before stays.
pub async fn publish(
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
        let broods = fitted.iter().filter(|f| f.taxon == taxon.slug).count();
        if broods < super::fit::brood_numbers(taxon).len() {
            continue;
        }
        let request = ForecastRequest {
            watershed: watershed.clone(),
            reach: None,
            taxon: Some(taxon.slug.clone()),
            season: today.year(),
            as_of: Some(today),
            today,
        };
        let forecasts = forecast(db, clock, &request).await?;
        let rows = forecasts.iter().map(row).collect::<Result<Vec<_>, _>>()?;
        let mut tx = db.write().await?;
        replace_forecasts(&mut tx, watershed, &taxon.slug, &rows).await?;
        tx.commit().await?;
        published.extend(forecasts);
    }
    Ok(published)
}

fn row(forecast: &Forecast) -> Result<PublishedForecast, serde_json::Error> {
    let document_json = serde_json::to_string(&ForecastDocument::from(forecast))?;
    Ok(PublishedForecast {
        watershed: forecast.watershed.clone(),
        reach: forecast.reach.clone(),
        taxon: forecast.taxon.clone(),
        brood: forecast.brood,
        season: forecast.season,
        fit_id: forecast.fit_id,
        issued_at: forecast.issued_at,
        data_as_of: forecast.data_as_of,
        etag: hex(&Sha256::digest(document_json.as_bytes())[..12]),
        document_json,
    })
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut text, byte| {
        use std::fmt::Write;
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}
