//! Documents of OGC API Features.

use serde::Serialize;
use utoipa::ToSchema;

use crate::app::document::geography::{Feature, Link};

/// Where to begin.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Landing {
    /// Title.
    pub(super) title: &'static str,
    /// What this is.
    pub(super) description: &'static str,
    /// Ways on.
    pub(super) links: Vec<Link>,
}

/// Classes of requirements that are met.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Conformance {
    /// Their addresses.
    pub(super) conforms_to: Vec<&'static str>,
}

/// All collections.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Collections {
    /// The collections.
    pub(super) collections: Vec<CollectionDocument>,
    /// Ways on.
    pub(super) links: Vec<Link>,
}

/// A collection of features.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub(crate) struct CollectionDocument {
    /// Identifier.
    pub(super) id: &'static str,
    /// Title.
    pub(super) title: &'static str,
    /// What it holds.
    pub(super) description: &'static str,
    /// Always `feature`.
    pub(super) item_type: &'static str,
    /// Coordinate reference systems: longitude before latitude, WGS 84.
    pub(super) crs: Vec<&'static str>,
    /// Where and when.
    pub(super) extent: Extent,
    /// Ways on.
    pub(super) links: Vec<Link>,
}

/// Where and when the features of a collection are.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct Extent {
    /// Where; left out when there are none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) spatial: Option<SpatialExtent>,
    /// When; left out for features without a time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) temporal: Option<TemporalExtent>,
}

/// A box around all features.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SpatialExtent {
    /// West, south, east, north.
    pub(super) bbox: Vec<[f64; 4]>,
    /// Coordinate reference system.
    pub(super) crs: &'static str,
}

/// The time from the first to the last feature.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct TemporalExtent {
    /// First and last instant.
    pub(super) interval: Vec<[String; 2]>,
    /// Temporal reference system.
    pub(super) trs: &'static str,
}

/// What was seen, or looked for in vain.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub(crate) struct ObservationProperties {
    /// Watershed slug.
    pub(super) watershed: String,
    /// Reach slug.
    pub(super) reach: String,
    /// First local day, for traps left over several.
    #[schema(example = "2026-05-18")]
    pub(super) from: chrono::NaiveDate,
    /// Local day, the last where there are several.
    pub(super) date: chrono::NaiveDate,
    /// Taxon slug.
    pub(super) taxon: String,
    /// Scientific name.
    pub(super) scientific_name: String,
    /// `visit`, `trap` or `first-sighting`.
    pub(super) kind: &'static str,
    /// Life stage; null where none was noted.
    #[schema(required)]
    pub(super) stage: Option<&'static str>,
    /// `none`, `sparse`, `moderate` or `heavy`; null where only a count was noted.
    #[schema(required)]
    pub(super) abundance_class: Option<&'static str>,
    /// False where it was looked for and not seen.
    pub(super) detected: bool,
    /// How far from the point it may have been, metres.
    pub(super) uncertainty_m: f64,
}

/// What a feature is, by collection.
#[derive(Debug, Clone, Serialize, ToSchema)]
#[serde(untagged)]
pub(crate) enum Properties {
    /// Of `reaches`.
    Reach(crate::app::document::geography::ReachProperties),
    /// Of `observations`.
    Observation(ObservationProperties),
}

/// A page of features.
#[derive(Debug, Serialize, ToSchema)]
#[serde(rename_all = "camelCase")]
pub(crate) struct Items {
    /// Always `FeatureCollection`.
    #[serde(rename = "type")]
    pub(super) kind: &'static str,
    /// The features of this page.
    pub(super) features: Vec<Feature<Properties>>,
    /// Ways on; `next` leads to the next page.
    pub(super) links: Vec<Link>,
    /// When this was made.
    pub(super) time_stamp: chrono::DateTime<chrono::Utc>,
    /// Features that fit the question.
    pub(super) number_matched: usize,
    /// Features of this page.
    pub(super) number_returned: usize,
}
