//! The season review: how early or late each season came.

use serde::Serialize;
use utoipa::ToSchema;

use crate::domain::Fit;
use crate::model::emergence::review::Review;

/// Reviews of all fitted taxa of a watershed.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeasonReviewDocument {
    /// Watershed slug.
    pub watershed: String,
    /// One row per taxon, brood and clock.
    pub rows: Vec<ReviewRowDocument>,
}

/// All seasons of one taxon and brood on one clock.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReviewRowDocument {
    /// Taxon slug.
    pub taxon: String,
    /// Brood, from 1.
    pub brood: u8,
    /// One of the four clocks: on the calendar days are days of the year, on the others thermal
    /// days, that is, later than the warmth of that season said.
    pub clock: String,
    /// Seasons with records, in order.
    pub seasons: Vec<SeasonDepartureDocument>,
    /// Days later per ten years; null with fewer than five seasons.
    #[schema(required)]
    pub trend_days_per_decade: Option<f64>,
    /// Standard error of the trend.
    #[schema(required)]
    pub trend_se: Option<f64>,
}

/// One season against what is usual.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeasonDepartureDocument {
    /// The season.
    pub season: i32,
    /// Days later than usual; negative is earlier.
    pub days_late: f64,
    /// Standard deviation of that, days.
    pub sd_days: f64,
}

impl ReviewRowDocument {
    /// The row of `review` under `fit`.
    #[must_use]
    pub fn new(fit: &Fit, review: &Review) -> Self {
        let season = |s: &crate::model::emergence::review::SeasonDeparture| SeasonDepartureDocument {
            season: s.year,
            days_late: s.days_late,
            sd_days: s.sd_days,
        };
        Self {
            taxon: fit.taxon.to_string(),
            brood: fit.brood,
            clock: review.clock.as_str().to_owned(),
            seasons: review.seasons.iter().map(season).collect(),
            trend_days_per_decade: review.trend.map(|t| t.0),
            trend_se: review.trend.map(|t| t.1),
        }
    }
}
