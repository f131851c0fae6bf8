//! The read model in memory: places, taxa, calendar entries and published forecasts.
//!
//! A snapshot never changes; a refresh swaps in a new one. Forecasts beyond the byte budget are
//! read from the database when asked for, and those longest unused make room.

use std::borrow::Cow;
use std::sync::Arc;

use super::document::ForecastDocument;
use super::document::skill::Verdict;
use super::feed::Entry;
use super::fit_window::{Lie, living_here};
use super::shelf::{Shelf, Shelved, Tags};
use super::{AppError, skill};
use crate::domain::{Audience, Gauge, Notice, Reach, Slug, Taxon, Watershed};
use crate::store::forecast::{ForecastFilter, PublishedForecast, forecast_generation, forecasts};
use crate::store::{Db, Tx, feed, feed_address, notice, place, taxon};

/// The published forecasts of one reach.
pub type Block = Arc<[Arc<ForecastDocument>]>;

/// What is served about one watershed.
#[derive(Debug)]
pub struct WatershedView {
    /// The watershed.
    pub watershed: Watershed,
    /// Its reaches by slug.
    pub reaches: Vec<Arc<Reach>>,
    /// Its gauges by slug.
    pub gauges: Vec<Arc<Gauge>>,
    /// The taxa that live there, by slug.
    pub taxa: Vec<Arc<Taxon>>,
    /// How the forecasts of each taxon and brood have done, where that could be scored.
    pub verdicts: Vec<(Slug, u8, Verdict)>,
    /// Calendar entries, withdrawn ones included.
    pub entries: Vec<Arc<Entry>>,
    /// What keepers tell, withdrawn notices included.
    pub notices: Vec<Arc<Notice>>,
    /// True when its feeds are given under secret addresses alone.
    pub feeds_private: bool,
    /// True when it has published forecasts.
    pub published: bool,
}

impl WatershedView {
    /// The notices that hold on `day` and that `reader` may see, oldest first; with `reach` only those about it.
    pub fn notices_on(&self, day: chrono::NaiveDate, reader: Audience, reach: Option<&Slug>) -> Vec<&Notice> {
        let about = |notice: &&Arc<Notice>| reach.is_none_or(|reach| notice.is_about(reach));
        self.notices.iter().filter(|notice| notice.holds(day, reader)).filter(about).map(|notice| &**notice).collect()
    }

    /// How the forecasts of `brood` of `taxon` have done, where that could be scored.
    #[must_use]
    pub fn verdict(&self, taxon: &Slug, brood: u8) -> Option<Verdict> {
        self.verdicts
            .iter()
            .find(|(known, number, _)| (known, *number) == (taxon, brood))
            .map(|(_, _, verdict)| *verdict)
    }

    /// The reach of that slug.
    ///
    /// # Errors
    /// [`AppError::NotFound`].
    pub fn reach(&self, slug: &Slug) -> Result<Arc<Reach>, AppError> {
        self.reaches.iter().find(|reach| reach.slug == *slug).cloned().ok_or_else(|| AppError::not_found("reach"))
    }

    /// The gauge of that slug.
    ///
    /// # Errors
    /// [`AppError::NotFound`].
    pub fn gauge(&self, slug: &Slug) -> Result<Arc<Gauge>, AppError> {
        self.gauges.iter().find(|gauge| gauge.slug == *slug).cloned().ok_or_else(|| AppError::not_found("gauge"))
    }
}

/// Everything served.
#[derive(Debug)]
pub struct Snapshot {
    watersheds: Vec<Arc<WatershedView>>,
    taxa: Vec<Arc<Taxon>>,
    generation: Option<i64>,
    shelf: Shelf,
}

impl Snapshot {
    /// Nothing loaded yet.
    #[must_use]
    pub fn empty(budget_bytes: usize) -> Self {
        Self { watersheds: Vec::new(), taxa: Vec::new(), generation: None, shelf: Shelf::new(budget_bytes) }
    }

    /// False until the first load.
    #[must_use]
    pub fn is_loaded(&self) -> bool {
        self.generation.is_some()
    }

    /// The publication count it shows.
    #[must_use]
    pub fn generation(&self) -> Option<i64> {
        self.generation
    }

    /// All watersheds by slug.
    #[must_use]
    pub fn watersheds(&self) -> &[Arc<WatershedView>] {
        &self.watersheds
    }

    /// The watershed of that slug.
    #[must_use]
    pub fn watershed(&self, slug: &Slug) -> Option<Arc<WatershedView>> {
        self.watersheds.iter().find(|view| view.watershed.slug == *slug).cloned()
    }

    /// All taxa by slug.
    #[must_use]
    pub fn taxa(&self) -> &[Arc<Taxon>] {
        &self.taxa
    }

    /// The taxon of that slug.
    ///
    /// # Errors
    /// [`AppError::NotFound`].
    pub fn taxon(&self, slug: &Slug) -> Result<Arc<Taxon>, AppError> {
        self.taxa.iter().find(|taxon| taxon.slug == *slug).cloned().ok_or_else(|| AppError::not_found("taxon"))
    }

    /// The published forecasts of `reach`, all taxa and seasons, from memory or the database.
    ///
    /// # Errors
    /// [`AppError::Store`].
    pub async fn forecasts(&self, db: &Db, watershed: &Slug, reach: &Slug) -> Result<Block, AppError> {
        let key = (watershed.key(), reach.key());
        if let Some(block) = self.shelf.get(&key) {
            return Ok(block);
        }
        let shelved = read_block(&mut db.read().await?, watershed, reach).await?;
        let block = Arc::clone(&shelved.block);
        self.shelf.put(key, shelved);
        Ok(block)
    }
}

/// Reads everything served, at one moment of the database; what the snapshot `before` has of it is kept.
///
/// # Errors
/// [`AppError::Store`], or [`AppError::Internal`] for a stored document that cannot be read.
pub async fn load(db: &Db, budget_bytes: usize, before: &Snapshot) -> Result<Snapshot, AppError> {
    let mut tx = db.read().await?;
    let generation = forecast_generation(&mut tx).await?;
    let taxa: Vec<Arc<Taxon>> = taxon::taxa(&mut tx).await?.into_iter().map(Arc::new).collect();
    let shelf = Shelf::new(budget_bytes);
    let mut watersheds = Vec::new();
    let mut room = true;
    for watershed in place::watersheds(&mut tx).await? {
        let slug = watershed.slug.clone();
        let reaches: Vec<Arc<Reach>> = place::reaches(&mut tx, &slug).await?.into_iter().map(Arc::new).collect();
        let gauges = place::gauges(&mut tx, &slug).await?.into_iter().map(Arc::new).collect();
        let residents: Vec<Slug> = taxon::residents(&mut tx, &slug).await?.into_iter().map(|t| t.slug).collect();
        let entries = feed::feed_events(&mut tx, &slug)
            .await?
            .iter()
            .map(|event| super::feed::entry_of(event).map(Arc::new))
            .collect::<Result<Vec<_>, _>>()?;
        let verdicts = skill::verdicts(&mut tx, &slug).await?;
        let notices = notice::notices(&mut tx, &slug).await?.into_iter().map(Arc::new).collect();
        let feeds_private = feed_address::are_feeds_private(&mut tx, &slug).await?;
        let tags = Tags::read(&mut tx, &slug).await?;
        for reach in &reaches {
            // Past the budget the rest waits in the database.
            if !room {
                break;
            }
            let key = (slug.key(), reach.slug.key());
            let shelved = match before.shelf.unchanged(&key, tags.of(&reach.slug)) {
                Some(shelved) => shelved,
                None => read_block(&mut tx, &slug, &reach.slug).await?,
            };
            room = shelf.has_room_for(shelved.bytes);
            if room {
                shelf.put(key, shelved);
            }
        }
        watersheds.push(Arc::new(WatershedView {
            taxa: as_they_live(taxa.iter().filter(|taxon| residents.contains(&taxon.slug)), &reaches),
            watershed,
            reaches,
            gauges,
            verdicts,
            entries,
            notices,
            feeds_private,
            published: !tags.is_empty(),
        }));
    }
    Ok(Snapshot { watersheds, taxa, generation: Some(generation), shelf })
}

/// `residents` of a water with `reaches`, each as it lives there.
fn as_they_live<'t>(residents: impl Iterator<Item = &'t Arc<Taxon>>, reaches: &[Arc<Reach>]) -> Vec<Arc<Taxon>> {
    let lie = Lie::of(reaches.iter().map(|reach| &**reach));
    // Most live everywhere alike and are shared.
    let here = |taxon: &Arc<Taxon>| match living_here(lie, taxon) {
        Cow::Borrowed(_) => taxon.clone(),
        Cow::Owned(turned) => Arc::new(turned),
    };
    residents.map(here).collect()
}

async fn read_block(tx: &mut Tx, watershed: &Slug, reach: &Slug) -> Result<Shelved, AppError> {
    let filter =
        ForecastFilter { watershed: Some(watershed.clone()), reach: Some(reach.clone()), taxon: None, season: None };
    let rows = forecasts(tx, &filter).await?;
    let read = |row: &PublishedForecast| {
        serde_json::from_str(&row.document_json).map(Arc::new).map_err(|error| {
            AppError::Internal(format!(
                "the published forecast of {} on {} cannot be read: {error}",
                row.taxon, row.reach
            ))
        })
    };
    Ok(Shelved {
        block: rows.iter().map(read).collect::<Result<_, _>>()?,
        bytes: rows.iter().map(|row| row.document_json.len()).sum(),
        tags: rows.into_iter().map(|row| row.etag).collect(),
    })
}

/// Rounds without news after which all is read anew: a minute where the database is polled, a quarter of an hour where
/// it wakes us.
const QUIET_ROUNDS: u32 = 30;

/// Watches for publications of other processes and refreshes after them, until dropped.
pub async fn keep_fresh(service: super::Service) {
    use std::time::Duration;
    let mut listener = service.db().listener().await.ok().flatten();
    let mut quiet_rounds = 0_u32;
    loop {
        // PostgreSQL wakes us; polling stays as the fall-back there and the way on SQLite.
        match &mut listener {
            Some(wake) => {
                let waited = tokio::time::timeout(Duration::from_secs(30), wake.published()).await;
                if matches!(waited, Ok(Err(_))) {
                    tokio::time::sleep(Duration::from_secs(2)).await;
                }
            }
            None => tokio::time::sleep(Duration::from_secs(2)).await,
        }
        quiet_rounds += 1;
        let seen = async {
            let mut tx = service.db().read().await?;
            forecast_generation(&mut tx).await
        };
        let changed = match seen.await {
            Ok(generation) => service.snapshot().generation() != Some(generation),
            Err(error) => {
                tracing::warn!(%error, "the database did not answer; what was read before stays served");
                continue;
            }
        };
        // What was changed past the program raises no count: look now and then.
        if changed || quiet_rounds >= QUIET_ROUNDS {
            quiet_rounds = 0;
            if let Err(error) = service.refresh().await {
                tracing::warn!(%error, "the snapshot was not refreshed; the one before stays served");
            }
        }
    }
}
