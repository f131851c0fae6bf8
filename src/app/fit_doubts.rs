//! What speaks against the fits that forecasts of an insect are made from.

use super::fit::brood_numbers;
use super::{AppError, Service};
use crate::domain::{Slug, Taxon};
use crate::store::fit::fit_to_publish;

/// The doubts of every brood, in words, with its number.
///
/// # Errors
/// [`AppError::Store`].
pub async fn doubts(service: &Service, watershed: &Slug, taxon: &Taxon) -> Result<Vec<(u8, String)>, AppError> {
    let mut tx = service.db().read().await?;
    let mut told = Vec::new();
    for brood in brood_numbers(taxon) {
        let fit = fit_to_publish(&mut tx, watershed, &taxon.slug, brood).await?;
        told.extend(fit.into_iter().flat_map(|fit| fit.warnings).map(|warning| (brood, warning)));
    }
    Ok(told)
}
