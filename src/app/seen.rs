//! "What did I just see?" on one reach, from the published forecasts and the traits.

use chrono::{DateTime, Utc};

use super::document::SeenDocument;
use super::document::seen_words::SeenSpeaker;
use super::guidance::{Here, present};
use super::{AppError, Service, WatershedView, forecasts};
use crate::domain::season::WhichSeason;
use crate::domain::{Reach, Seen, Taxon};
use crate::model::guidance::seen::rank;
use crate::words::Language;

/// A question about an insect.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SeenQuery {
    /// When it was seen; default now.
    pub at: Option<DateTime<Utc>>,
    /// What was seen of it.
    pub seen: Seen,
    /// The language of the answer.
    pub language: Language,
}

/// What may have been seen on `reach` of `view`.
///
/// # Errors
/// [`AppError::Store`].
pub async fn seen(
    service: &Service,
    view: &WatershedView,
    reach: &Reach,
    query: &SeenQuery,
) -> Result<SeenDocument, AppError> {
    let zone = view.watershed.time_zone;
    let at = query.at.unwrap_or_else(|| present(service, zone));
    let date = at.with_timezone(&zone).date_naive();
    let season = WhichSeason::On(date);
    let published = forecasts::published(service, view, std::slice::from_ref(&reach.slug), season).await?;
    let candidates = Here { at, zone, date, reach }.candidates(view, &published);
    let residents: Vec<&Taxon> = view.taxa.iter().map(|taxon| &**taxon).collect();
    let place = (view.watershed.slug.to_string(), reach.slug.to_string());
    let speaker = SeenSpeaker { language: query.language };
    Ok(SeenDocument::new(place, at, rank(&residents, &candidates, &query.seen), speaker))
}

/// Now on `view`, as a question without a moment is answered.
#[must_use]
pub fn now(service: &Service, view: &WatershedView) -> DateTime<Utc> {
    present(service, view.watershed.time_zone)
}
