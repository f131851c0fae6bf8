//! How early or late each season of a watershed came, from the fits in use.

use super::document::season_review::{ReviewRowDocument, SeasonReviewDocument};
use super::{AppError, Service};
use crate::domain::Slug;
use crate::model::emergence::FittedForm;
use crate::model::emergence::review::review;
use crate::store::fit::fits_to_publish;

/// The review of every fitted taxon; a fit stored by another version of the program is left out until
/// it is made anew.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Store`].
pub async fn season_review(service: &Service, watershed: &Slug) -> Result<SeasonReviewDocument, AppError> {
    let view = service.watershed(watershed)?;
    let slug = &view.watershed.slug;
    let fits = fits_to_publish(&mut service.db().read().await?, slug).await?;
    let mut rows = Vec::new();
    for fit in &fits {
        let form = serde_json::from_str::<FittedForm>(&fit.model_json).ok();
        let Some(fitted) = form.and_then(FittedForm::into_fitted) else {
            tracing::warn!(taxon = %fit.taxon, "a stored fit is of another version and is not reviewed");
            continue;
        };
        rows.extend(review(&fitted).iter().map(|one| ReviewRowDocument::new(fit, one)));
    }
    Ok(SeasonReviewDocument { watershed: slug.to_string(), rows })
}
