//! The visit plan: where and when looking would teach most.

use chrono::NaiveDate;
use serde::Serialize;
use utoipa::ToSchema;

/// Days of the coming fortnight at each reach, the most useful first.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VisitPlanDocument {
    /// Watershed slug.
    pub watershed: String,
    /// One row per reach and day, the most useful first.
    pub rows: Vec<PlannedVisitDocument>,
}

/// One visit that could be made.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlannedVisitDocument {
    /// Reach slug.
    pub reach: String,
    /// Local day.
    pub date: NaiveDate,
    /// Days by which the dates of all insects together are expected to become narrower (sum of the
    /// standard deviations' falls), for one person watching the two hours around each peak.
    pub narrowing_days: f64,
    /// The insects it would tell most about, at most five.
    pub taxa: Vec<PlannedTaxonDocument>,
}

/// What a visit would teach about one insect.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PlannedTaxonDocument {
    /// Taxon slug.
    pub taxon: String,
    /// Brood, from 1.
    pub brood: u8,
    /// Expected narrowing, days.
    pub narrowing_days: f64,
}
