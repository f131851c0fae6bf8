//! Field reports: as members send and see them, and as the public sees them.

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::report::{Report, Sighting, WingPads};
use crate::domain::{AbundanceClass, Slug};

/// A report as its member and the keepers see it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReportDocument {
    /// Made by the client, unique for ever.
    pub id: Uuid,
    /// Watershed slug.
    pub watershed: String,
    /// Reach slug.
    pub reach: String,
    /// Start of watching.
    pub started_at: DateTime<Utc>,
    /// End of watching.
    pub ended_at: DateTime<Utc>,
    /// How many people watched.
    pub people: u32,
    /// Taxa looked for; null means all of the watershed.
    #[schema(required)]
    pub looked_for: Option<Vec<String>>,
    /// Water temperature measured, degrees Celsius.
    #[schema(required)]
    pub water_c: Option<f64>,
    /// Sky in the member's words.
    #[schema(required)]
    pub sky: Option<String>,
    /// Anything else.
    #[schema(required)]
    pub note: Option<String>,
    /// What was seen; empty for a blank report.
    pub sightings: Vec<SightingDocument>,
    /// `new`, `accepted`, `needs_info` or `rejected`.
    #[schema(example = "accepted")]
    pub state: &'static str,
    /// When the service received it.
    pub received_at: DateTime<Utc>,
    /// Counts edits; 1 when first stored.
    pub version: u32,
}

/// One thing seen.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SightingDocument {
    /// Taxon slug, or null with a description.
    #[schema(required)]
    pub taxon: Option<String>,
    /// An insect without a name.
    #[schema(required)]
    pub described: Option<DescribedDocument>,
    /// Life stage.
    #[schema(example = "dun")]
    pub stage: &'static str,
    /// `sparse`, `moderate` or `heavy`.
    #[schema(required, example = "moderate")]
    pub abundance_class: Option<&'static str>,
    /// Count, where counted.
    #[schema(required)]
    pub count: Option<u32>,
    /// `dark` or `light`, nymphs only.
    #[schema(required)]
    pub wing_pads: Option<&'static str>,
    /// Behaviour in the member's words.
    #[schema(required)]
    pub behaviour: Option<String>,
}

/// An insect the member could not name.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DescribedDocument {
    /// Body length without tails, mm.
    pub length_mm: f64,
    /// Colour in the member's words.
    pub colour: String,
}

impl From<&Sighting> for SightingDocument {
    fn from(s: &Sighting) -> Self {
        Self {
            taxon: s.taxon.as_ref().map(Slug::to_string),
            described: s
                .described
                .as_ref()
                .map(|d| DescribedDocument { length_mm: d.length_mm, colour: d.colour.clone() }),
            stage: s.stage.as_str(),
            abundance_class: s.abundance_class.map(AbundanceClass::as_str),
            count: s.count,
            wing_pads: s.wing_pads.map(WingPads::as_str),
            behaviour: s.behaviour.clone(),
        }
    }
}

impl From<&Report> for ReportDocument {
    fn from(r: &Report) -> Self {
        Self {
            id: r.id,
            watershed: r.watershed.to_string(),
            reach: r.reach.to_string(),
            started_at: r.started_at,
            ended_at: r.ended_at,
            people: r.people,
            looked_for: r.looked_for.as_ref().map(|taxa| taxa.iter().map(Slug::to_string).collect()),
            water_c: r.water_c,
            sky: r.sky.clone(),
            note: r.note.clone(),
            sightings: r.sightings.iter().map(Into::into).collect(),
            state: r.state.as_str(),
            received_at: r.received_at,
            version: r.version,
        }
    }
}

/// A report as everyone sees it: day and reach, what was seen; no hours, people, notes, counts or
/// sender.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct PublicReport {
    /// Identifier.
    pub id: Uuid,
    /// Watershed slug.
    pub watershed: String,
    /// Reach slug.
    pub reach: String,
    /// Local civil day of the visit.
    pub date: NaiveDate,
    /// What was seen; empty for a blank report.
    pub sightings: Vec<PublicSighting>,
}

/// What was seen, generalised.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct PublicSighting {
    /// Taxon slug; null when it could not be named.
    #[schema(required)]
    pub taxon: Option<String>,
    /// Life stage.
    pub stage: &'static str,
    /// `sparse`, `moderate` or `heavy`; null where only a count was given.
    #[schema(required)]
    pub abundance_class: Option<&'static str>,
}

impl PublicReport {
    /// The public view of `report` in its watershed's time zone.
    #[must_use]
    pub fn of(report: &Report, zone: Tz) -> Self {
        Self {
            id: report.id,
            watershed: report.watershed.to_string(),
            reach: report.reach.to_string(),
            date: report.started_at.with_timezone(&zone).date_naive(),
            sightings: report
                .sightings
                .iter()
                .map(|s| PublicSighting {
                    taxon: s.taxon.as_ref().map(Slug::to_string),
                    stage: s.stage.as_str(),
                    abundance_class: s.abundance_class.map(AbundanceClass::as_str),
                })
                .collect(),
        }
    }
}
