//! Places as GeoJSON (RFC 7946): longitude before latitude, WGS 84.

use serde::Serialize;
use utoipa::ToSchema;

use crate::domain::{Reach, Slug, WaterType};

/// Something at a point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Feature<P: ToSchema> {
    /// Always `Feature`.
    #[serde(rename = "type")]
    #[schema(example = "Feature")]
    pub kind: &'static str,
    /// Identifier.
    pub id: String,
    /// Where.
    pub geometry: Point,
    /// What.
    pub properties: P,
    /// Where to go from here.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub links: Vec<Link>,
}

/// A point.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct Point {
    /// Always `Point`.
    #[serde(rename = "type")]
    #[schema(example = "Point")]
    pub kind: &'static str,
    /// Degrees east and degrees north.
    #[schema(example = json!([-3.075, 52.305]))]
    pub coordinates: [f64; 2],
}

/// A way on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct Link {
    /// Address.
    pub href: String,
    /// What it is to this document, for example `next`.
    pub rel: &'static str,
    /// Media type.
    #[serde(rename = "type")]
    pub media: &'static str,
    /// For people.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<&'static str>,
}

impl Link {
    /// A link without a title.
    #[must_use]
    pub fn new(href: impl Into<String>, rel: &'static str, media: &'static str) -> Self {
        Self { href: href.into(), rel, media, title: None }
    }
}

impl<P: ToSchema> Feature<P> {
    /// A feature at a point.
    #[must_use]
    pub fn at(latitude: f64, longitude: f64, id: impl Into<String>, properties: P) -> Self {
        let geometry = Point { kind: "Point", coordinates: [longitude, latitude] };
        Self { kind: "Feature", id: id.into(), geometry, properties, links: Vec::new() }
    }
}

/// Features.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FeatureCollection<P: ToSchema> {
    /// Always `FeatureCollection`.
    #[serde(rename = "type")]
    #[schema(example = "FeatureCollection")]
    pub kind: &'static str,
    /// The features of this page.
    pub features: Vec<Feature<P>>,
}

impl<P: ToSchema> FeatureCollection<P> {
    /// A collection of `features`.
    #[must_use]
    pub fn of(features: Vec<Feature<P>>) -> Self {
        Self { kind: "FeatureCollection", features }
    }
}

/// What is known of a reach besides its place.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReachProperties {
    /// Watershed slug.
    pub watershed: String,
    /// Reach slug.
    pub slug: String,
    /// Display name.
    pub name: String,
    /// Metres above sea level.
    #[schema(required)]
    pub elevation_m: Option<f64>,
    /// `riffle`, `run`, `pool`, `slow-margin` or `still-water`.
    #[schema(required)]
    pub water_type: Option<&'static str>,
    /// Gauges in order of preference.
    pub gauges: Vec<String>,
}

impl ReachProperties {
    /// What is known of `reach`.
    #[must_use]
    pub fn of(watershed: &Slug, reach: &Reach) -> Self {
        Self {
            watershed: watershed.to_string(),
            slug: reach.slug.to_string(),
            name: reach.name.clone(),
            elevation_m: reach.elevation_m,
            water_type: reach.water_type.map(WaterType::as_str),
            gauges: reach.gauges.iter().map(Slug::to_string).collect(),
        }
    }

    /// A reach at the point that keepers gave for it.
    #[must_use]
    pub fn feature(watershed: &Slug, reach: &Reach) -> Feature<Self> {
        Feature::at(reach.latitude, reach.longitude, reach.slug.as_str(), Self::of(watershed, reach))
    }
}
