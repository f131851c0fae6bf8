//! Wire documents: what the HTTP interface and the commands' `--json` send and take.
//!
//! One value serves both. Outgoing documents are built `From` domain values; incoming ones are
//! read by [`read`], which reports every fault of a body at once with JSON Pointers (RFC 6901).

mod credit;
pub mod faults;
pub mod feeds;
pub mod fit;
pub mod forecast;
pub mod forecast_parts;
pub mod geography;
pub mod guidance;
pub mod import;
pub mod input;
pub mod job;
pub mod join;
pub mod moderation;
pub mod notice;
pub mod number;
pub mod photo;
pub mod place;
pub mod reading;
pub mod report;
pub mod report_input;
pub mod rule;
pub mod season_review;
pub mod seen;
pub mod seen_words;
pub mod skill;
pub mod sync;
pub mod taxon;
pub mod taxon_input;
pub mod taxon_looks;
pub mod time;
pub mod token;
pub mod visit_plan;
pub mod water_hours;

pub use faults::{Fault, Faults};
pub use feeds::{FeedAddressDocument, FeedAddressInput, FeedsDocument, FeedsInput, NewFeedAddressDocument};
pub use fit::{FitDocument, FitInput};
pub use forecast::ForecastDocument;
pub use guidance::GuidanceDocument;
pub use import::{DoubtfulRecord, FlaggedReading, ImportDocument, ImportFault};
pub use input::{Input, Patch, merge, read};
pub use job::JobDocument;
pub use join::{JoinCodeDocument, JoinCodeInput, JoinInput, NewJoinCodeDocument};
pub use moderation::{ModerationDocument, ReportChangeDocument, SentDocument};
pub use notice::{NoticeDocument, NoticeInput};
pub use photo::PhotoDocument;
pub use place::{
    FetchingDocument, GaugeDetailDocument, GaugeDocument, GaugeInput, ReachDocument, ReachInput, SeriesDocument,
    WatershedDocument, WatershedInput, WatershedSummary,
};
pub use reading::{ReadingDocument, ReadingsInput, ReadingsReceipt};
pub use report::{PublicReport, ReportDocument};
pub use report_input::{DecisionInput, ReportInput};
pub use rule::Rule;
pub use season_review::SeasonReviewDocument;
pub use seen::{SeenDocument, SeenReasonDocument, SeenTaxonDocument};
pub use skill::{SkillDocument, SkillRowDocument};
pub use taxon::TaxonDocument;
pub use taxon_input::TaxonInput;
pub use token::{ErasureDocument, NewTokenDocument, TokenDocument, TokenInput};
pub use visit_plan::VisitPlanDocument;

use serde::Serialize;
use utoipa::ToSchema;

/// Pattern of a slug, as published in the schemas.
pub const SLUG_PATTERN: &str = "^[A-Za-z0-9_-]{1,64}$";

/// A page of a collection.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct List<T: ToSchema> {
    /// The items of this page.
    pub items: Vec<T>,
    /// Address of the next page; null on the last.
    #[schema(required)]
    pub next: Option<String>,
    /// Address of the page before; null on the first.
    #[schema(required)]
    pub prev: Option<String>,
}

impl<T: ToSchema> List<T> {
    /// A list that is whole on one page.
    #[must_use]
    pub fn whole(items: Vec<T>) -> Self {
        Self { items, next: None, prev: None }
    }
}
