//! Documents that take long to make, kept until what they are made from may have changed.

use std::collections::HashMap;
use std::sync::{Arc, PoisonError, RwLock};

use chrono::NaiveDate;

use super::document::{SeasonReviewDocument, VisitPlanDocument};
use super::season_review::season_review;
use super::visit_plan::visit_plan;
use super::{AppError, Service};
use crate::domain::Slug;

/// Most watersheds of which a document is kept.
const MOST: usize = 64;

/// What a document was made from: the publications there had been, and the day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct MadeFrom {
    generation: Option<i64>,
    today: NaiveDate,
}

/// One kind of document, the newest of each watershed.
#[derive(Debug)]
pub(super) struct Kept<T> {
    documents: RwLock<HashMap<String, (MadeFrom, Arc<T>)>>,
    /// Held by whoever makes one: those who ask meanwhile have it too.
    making: tokio::sync::Mutex<()>,
}

impl<T> Default for Kept<T> {
    fn default() -> Self {
        Self { documents: RwLock::default(), making: tokio::sync::Mutex::default() }
    }
}

impl<T> Kept<T> {
    fn get(&self, watershed: &str, from: MadeFrom) -> Option<Arc<T>> {
        let documents = self.documents.read().unwrap_or_else(PoisonError::into_inner);
        documents.get(watershed).filter(|(known, _)| *known == from).map(|(_, document)| Arc::clone(document))
    }

    fn put(&self, watershed: String, from: MadeFrom, document: Arc<T>) {
        let mut documents = self.documents.write().unwrap_or_else(PoisonError::into_inner);
        if documents.len() >= MOST && !documents.contains_key(&watershed) {
            documents.clear();
        }
        documents.insert(watershed, (from, document));
    }

    /// The document of `watershed`, made by `make` unless it is kept.
    async fn or_made(
        &self,
        service: &Service,
        watershed: &Slug,
        make: impl Future<Output = Result<T, AppError>>,
    ) -> Result<Arc<T>, AppError> {
        let view = service.watershed(watershed)?;
        let now =
            || MadeFrom { generation: service.snapshot().generation(), today: service.today(view.watershed.time_zone) };
        let key = view.watershed.slug.key();
        if let Some(document) = self.get(&key, now()) {
            return Ok(document);
        }
        let _making = self.making.lock().await;
        // What is published while it is made may or may not be in it: the next one is then made anew.
        let from = now();
        if let Some(document) = self.get(&key, from) {
            return Ok(document);
        }
        let document = Arc::new(make.await?);
        self.put(key, from, Arc::clone(&document));
        Ok(document)
    }
}

/// How early or late each season of `watershed` came.
///
/// # Errors
/// Those of [`season_review`].
pub async fn kept_review(service: &Service, watershed: &Slug) -> Result<Arc<SeasonReviewDocument>, AppError> {
    let (asked, slug) = (service.clone(), watershed.clone());
    to_the_end(async move {
        let (reading, of) = (asked.clone(), slug.clone());
        let made = async {
            // It reads megabytes of text after one question to the database: not on a thread that serves.
            let runtime = tokio::runtime::Handle::current();
            let made = tokio::task::spawn_blocking(move || runtime.block_on(season_review(&reading, &of)));
            made.await.map_err(|error| AppError::Internal(format!("the review was cut off: {error}")))?
        };
        asked.reviews().or_made(&asked, &slug, made).await
    })
    .await
}

/// Where and when the next visits to `watershed` would teach most.
///
/// # Errors
/// Those of [`visit_plan`].
pub async fn kept_plan(service: &Service, watershed: &Slug) -> Result<Arc<VisitPlanDocument>, AppError> {
    let (asked, slug) = (service.clone(), watershed.clone());
    to_the_end(async move { asked.plans().or_made(&asked, &slug, visit_plan(&asked, &slug)).await }).await
}

/// Lets `making` end, and what it made be kept, also when whoever asked has gone: the next one is not to begin again.
async fn to_the_end<T: Send + 'static>(
    making: impl Future<Output = Result<T, AppError>> + Send + 'static,
) -> Result<T, AppError> {
    tokio::spawn(making).await.map_err(|error| AppError::Internal(format!("a document was cut off: {error}")))?
}

#[cfg(test)]
mod tests {
    use super::*;

    fn from(generation: i64, day: u32) -> MadeFrom {
        let today = NaiveDate::from_ymd_opt(2026, 5, day).expect("a date");
        MadeFrom { generation: Some(generation), today }
    }

    #[test]
    fn a_document_stands_until_a_publication_or_midnight_and_memory_is_bounded() {
        let kept = Kept::default();
        kept.put("ostrey".to_owned(), from(7, 19), Arc::new(1));
        assert_eq!(kept.get("ostrey", from(7, 19)).as_deref(), Some(&1));
        for other in [from(8, 19), from(7, 20)] {
            assert_eq!(kept.get("ostrey", other), None);
        }
        assert_eq!(kept.get("elsewhere", from(7, 19)), None);
        for number in 0..1000 {
            kept.put(format!("water-{number}"), from(7, 19), Arc::new(number));
        }
        assert!(kept.documents.read().expect("whole").len() <= MOST);
        assert_eq!(kept.get("water-999", from(7, 19)).as_deref(), Some(&999));
    }
}
