//! What is to be published of one taxon: forecasts and calendar entries, written out before anybody waits for the
//! database.

use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::AppError;
use super::digest::hex;
use super::document::ForecastDocument;
use super::feed::{self, EntryContent};
use crate::domain::{Forecast, Reach, Slug, Taxon};
use crate::store::forecast::PublishedForecast;

/// The forecasts of one taxon of a watershed and the calendar entries they call for.
#[derive(Debug, Clone)]
pub(super) struct Issue {
    pub(super) taxon: Taxon,
    pub(super) rows: Vec<PublishedForecast>,
    pub(super) entries: Vec<(Uuid, EntryContent)>,
}

impl Issue {
    /// Of `forecasts` of `taxon` on `reaches` of `watershed`.
    ///
    /// # Errors
    /// [`AppError::Internal`] for a document that cannot be written.
    pub(super) fn new<'f>(
        watershed: &Slug,
        reaches: &[Reach],
        taxon: Taxon,
        forecasts: impl IntoIterator<Item = &'f Forecast>,
    ) -> Result<Self, AppError> {
        let (mut rows, mut entries) = (Vec::new(), Vec::new());
        for forecast in forecasts {
            let document = ForecastDocument::from(forecast);
            if let Some(reach) = reaches.iter().find(|reach| reach.slug == forecast.reach) {
                entries.extend(feed::plan(watershed, &document, reach, &taxon));
            }
            rows.push(row(forecast, &document)?);
        }
        Ok(Self { taxon, rows, entries })
    }
}

fn row(forecast: &Forecast, document: &ForecastDocument) -> Result<PublishedForecast, AppError> {
    let document_json = to_json(document)?;
    Ok(PublishedForecast {
        watershed: forecast.watershed.clone(),
        reach: forecast.reach.clone(),
        taxon: forecast.taxon.clone(),
        brood: forecast.brood,
        season: forecast.season,
        fit_id: forecast.fit_id,
        issued_at: forecast.issued_at,
        data_as_of: forecast.data_as_of,
        etag: hex_digest(&document_json),
        document_json,
    })
}

/// `value` as it is stored.
pub(super) fn to_json(value: &impl serde::Serialize) -> Result<String, AppError> {
    serde_json::to_string(value).map_err(|error| AppError::Internal(format!("a document cannot be written: {error}")))
}

/// What tells one stored text from another.
pub(super) fn hex_digest(text: &str) -> String {
    hex(&Sha256::digest(text))
}
