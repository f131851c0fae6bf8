//! Pages: rendered here, working without scripts. Words first, then the picture, then the same
//! numbers as a table.

pub(crate) mod about;
pub(crate) mod calendar_sheet;
pub(crate) mod called;
pub(crate) mod card;
mod clock_strip;
pub(crate) mod desk;
mod digest;
mod doubts;
pub(crate) mod embed;
mod faults;
mod given;
pub(crate) mod handlers;
pub(crate) mod home;
pub(crate) mod layout;
pub(crate) mod on_bank;
mod picture;
pub(crate) mod problems;
mod put_on;
pub(crate) mod reach;
pub(crate) mod reference;
pub(crate) mod report;
mod season;
pub(crate) mod season_page;
pub(crate) mod seen;
pub(crate) mod skill;
mod table;
pub(crate) mod taxon;
mod told;
pub(crate) mod units;
mod water_hours;
mod water_line;
pub(crate) mod watershed;
mod words;

use std::sync::Arc;

use chrono::NaiveDate;

use self::units::Units;
use crate::app::document::ForecastDocument;
use crate::app::{AppError, FittingProgress, Service, WatershedView, forecasts};
use crate::domain::Slug;
use crate::domain::season::{Season, WhichSeason};
use crate::words::Language;

/// Media type of every page.
pub(crate) const HTML: &str = "text/html; charset=utf-8";

/// What a page of a watershed or reach is made from.
#[derive(Debug, Clone)]
pub(crate) struct PageView {
    /// Places and taxa.
    pub(crate) view: Arc<WatershedView>,
    /// Forecasts of the season.
    pub(crate) forecasts: Vec<Arc<ForecastDocument>>,
    /// The civil date shown as today.
    pub(crate) today: NaiveDate,
    /// The year shown.
    pub(crate) season: i32,
    /// Fits under way.
    pub(crate) fitting: Option<FittingProgress>,
    /// The scale of temperatures.
    pub(crate) units: Units,
    /// The language of the page.
    pub(crate) language: Language,
}

/// The coming week of a watershed as plain text.
///
/// # Errors
/// [`AppError::NotFound`] for an unknown watershed, [`AppError::Store`].
pub async fn digest_of(
    service: &Service,
    watershed: &Slug,
    public_url: &str,
    language: Language,
) -> Result<String, AppError> {
    let view = service.watershed(watershed)?;
    let units = view.watershed.units;
    let page = page_view(service, view, &[], (units, language)).await?;
    Ok(digest::digest(&page, public_url))
}

/// What a page of `view` shows, over one reach or all.
pub(crate) async fn page_view(
    service: &Service,
    view: Arc<WatershedView>,
    reaches: &[Slug],
    (units, language): (Units, Language),
) -> Result<PageView, AppError> {
    let today = service.today(view.watershed.time_zone);
    let season = Season::containing(today).year;
    let forecasts = forecasts::published(service, &view, reaches, WhichSeason::On(today)).await?;
    let fitting = service.fitting(&view.watershed.slug);
    Ok(PageView { view, forecasts, today, season, fitting, units, language })
}
