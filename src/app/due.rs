//! Whether the published forecasts of a watershed are those of today and of its latest fits.

use chrono::NaiveDate;
use chrono_tz::Tz;
use uuid::Uuid;

use super::AppError;
use crate::domain::Slug;
use crate::store::forecast::{ForecastFilter, forecasts};
use crate::store::{Db, fit};

/// The identifiers of the latest fits of `watershed`, in a fixed order.
///
/// # Errors
/// [`AppError::Store`].
pub async fn latest_fit_ids(db: &Db, watershed: &Slug) -> Result<Vec<Uuid>, AppError> {
    let mut tx = db.read().await?;
    let mut ids: Vec<Uuid> = fit::latest_fits(&mut tx, watershed).await?.iter().map(|fit| fit.id).collect();
    ids.sort_unstable();
    Ok(ids)
}

/// True when forecasts are missing for one of `fits`, or all were issued before local day `today`.
///
/// # Errors
/// [`AppError::Store`].
pub async fn is_due(db: &Db, watershed: &Slug, zone: Tz, fits: &[Uuid], today: NaiveDate) -> Result<bool, AppError> {
    let mut tx = db.read().await?;
    let filter = ForecastFilter { watershed: Some(watershed.clone()), ..ForecastFilter::default() };
    let published = forecasts(&mut tx, &filter).await?;
    let missing = fits.iter().any(|id| !published.iter().any(|f| f.fit_id == *id));
    let newest = published.iter().map(|f| f.issued_at.with_timezone(&zone).date_naive()).max();
    Ok(missing || (!fits.is_empty() && newest.is_none_or(|date| date < today)))
}
