//! Which forecast documents answer a question.

use std::collections::BTreeSet;
use std::fmt::Debug;
use std::future::Future;
use std::pin::Pin;
use std::sync::Arc;

use chrono::{Days, NaiveDate};

use super::document::{Faults, ForecastDocument, Rule};
use super::{AppError, Service, WatershedView};
use crate::domain::season::{Cycle, WhichSeason};
use crate::domain::{Forecast, Slug};

/// Days shown unless asked otherwise.
pub const DEFAULT_DAYS: u32 = 16;
/// Most days shown.
pub const MAX_DAYS: u32 = 370;

/// A question for forecasts.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ForecastQuery {
    /// Only these reaches; empty means all.
    pub reaches: Vec<Slug>,
    /// Only these taxa; empty means all.
    pub taxa: Vec<Slug>,
    /// First day; default today, or the season's first day when another season is asked for.
    pub from: Option<NaiveDate>,
    /// Number of days; default [`DEFAULT_DAYS`].
    pub days: Option<u32>,
    /// Season; default that of the first day.
    pub season: Option<i32>,
    /// Use only temperatures known up to this day.
    pub as_of: Option<NaiveDate>,
}

/// What a hindcast is asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HindcastQuery {
    /// Watershed.
    pub watershed: Slug,
    /// Only these reaches; empty means all.
    pub reaches: Vec<Slug>,
    /// Only these taxa; empty means all.
    pub taxa: Vec<Slug>,
    /// Season of each taxon.
    pub season: WhichSeason,
    /// Temperatures known up to the end of this local day; `None` means all.
    pub as_of: Option<NaiveDate>,
}

/// The answer on its way.
pub type Forecasting<'a> = Pin<Box<dyn Future<Output = Result<Vec<Forecast>, AppError>> + Send + 'a>>;

/// Computes forecasts that are not published: of other seasons, or as of a past day.
pub trait Hindcast: Debug + Send + Sync {
    /// Whole-season forecasts from the latest fit.
    fn forecast(&self, service: &Service, query: HindcastQuery) -> Forecasting<'_>;
}

/// The published forecasts of the season meant, over `reaches` (all when empty).
///
/// # Errors
/// [`AppError::Store`].
pub async fn published(
    service: &Service,
    view: &WatershedView,
    reaches: &[Slug],
    season: WhichSeason,
) -> Result<Vec<Arc<ForecastDocument>>, AppError> {
    let meant = |document: &ForecastDocument| {
        let taxon = view.taxa.iter().find(|taxon| taxon.slug.as_str().eq_ignore_ascii_case(&document.taxon));
        taxon.is_some_and(|taxon| season.of(Cycle::of(taxon)).year == document.season)
    };
    let snapshot = service.snapshot();
    let mut found = Vec::new();
    for reach in view.reaches.iter().filter(|reach| reaches.is_empty() || reaches.contains(&reach.slug)) {
        let block = snapshot.forecasts(service.db(), &view.watershed.slug, &reach.slug).await?;
        found.extend(block.iter().filter(|document| meant(document)).cloned());
    }
    Ok(found)
}

/// A misspelt name must not look like an empty river.
fn check_names(view: &WatershedView, query: &ForecastQuery) -> Result<(), AppError> {
    let mut faults = Faults::default();
    for slug in query.reaches.iter().filter(|slug| view.reach(slug).is_err()) {
        faults.add_broken("reach", Rule::ReachHere(slug.clone()));
    }
    for slug in query.taxa.iter().filter(|slug| !view.taxa.iter().any(|taxon| taxon.slug == **slug)) {
        faults.add_broken("taxon", Rule::TaxonHere(slug.clone()));
    }
    if faults.is_empty() { Ok(()) } else { Err(AppError::Query(faults)) }
}

/// The documents that answer `query`, cut to the days asked for.
///
/// # Errors
/// A fault for each reach and taxon that does not belong to the watershed;
/// [`AppError::Unavailable`] when it needs a computation this process does not offer.
pub async fn answer(
    service: &Service,
    view: &WatershedView,
    query: &ForecastQuery,
) -> Result<Vec<ForecastDocument>, AppError> {
    check_names(view, query)?;
    let today = service.today(view.watershed.time_zone);
    let season = query.season.map_or(WhichSeason::On(query.from.unwrap_or(today)), WhichSeason::Named);
    let wanted =
        |taxon: &str| query.taxa.is_empty() || query.taxa.iter().any(|t| t.as_str().eq_ignore_ascii_case(taxon));
    // Of a named season some taxa may be in the midst while that of others is over.
    let cycles: Vec<Cycle> =
        view.taxa.iter().filter(|taxon| wanted(taxon.slug.as_str())).map(|taxon| Cycle::of(taxon)).collect();
    let running = |cycle: &Cycle| season.of(*cycle) == cycle.containing(today);
    let this_season = cycles.iter().all(running);
    let from = query.from.unwrap_or_else(|| match query.season {
        Some(year) if !cycles.iter().any(running) => Cycle::Calendar.season(year).first_day(),
        _ => today,
    });
    let to = from + Days::new(u64::from(query.days.unwrap_or(DEFAULT_DAYS)));
    let inside = |date: NaiveDate| date >= from && date < to;
    let stored = published(service, view, &query.reaches, season).await?;
    let current = query.as_of.is_none_or(|day| day >= today);
    let all_stored = || stored.iter().map(|document| &document.taxon).collect::<BTreeSet<_>>().len() >= cycles.len();
    if current && (this_season || all_stored()) {
        return Ok(stored.iter().filter(|document| wanted(&document.taxon)).map(|d| d.cut(inside)).collect());
    }
    let Some(hindcast) = service.hindcast() else {
        return Err(AppError::Unavailable {
            detail: "Only the published forecasts can be served here; leave season and as_of out.",
            retry_after_s: 3600,
        });
    };
    let ask = HindcastQuery {
        watershed: view.watershed.slug.clone(),
        reaches: query.reaches.clone(),
        taxa: query.taxa.clone(),
        season,
        as_of: query.as_of,
    };
    let computed = hindcast.forecast(service, ask).await?;
    Ok(computed.iter().map(|forecast| ForecastDocument::with_days(forecast, inside)).collect())
}
