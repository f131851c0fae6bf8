//! Whether the published forecasts of a watershed are those of today and of its latest fits.

use chrono::NaiveDate;
use chrono_tz::Tz;
use uuid::Uuid;

use super::AppError;
use crate::domain::Slug;
use crate::store::forecast::newest_issues_by_fit;
use crate::store::{Db, fit};

/// The identifiers of the latest fits of `watershed`, in a fixed order.
///
/// # Errors
/// [`AppError::Store`].
pub async fn latest_fit_ids(db: &Db, watershed: &Slug) -> Result<Vec<Uuid>, AppError> {
    let mut tx = db.read().await?;
    Ok(fit::latest_fit_ids(&mut tx, watershed).await?)
}

/// True when forecasts are missing for one of `fits`, or all were issued before local day `today`.
///
/// # Errors
/// [`AppError::Store`].
pub async fn is_due(db: &Db, watershed: &Slug, zone: Tz, fits: &[Uuid], today: NaiveDate) -> Result<bool, AppError> {
    let mut tx = db.read().await?;
    let published = newest_issues_by_fit(&mut tx, watershed).await?;
    let missing = fits.iter().any(|id| !published.iter().any(|(fit, _)| fit == id));
    let newest = published.iter().map(|(_, issued_at)| issued_at.with_timezone(&zone).date_naive()).max();
    Ok(missing || (!fits.is_empty() && newest.is_none_or(|date| date < today)))
}
