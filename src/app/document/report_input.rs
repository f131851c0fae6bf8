//! Reports and decisions as clients send them.

use chrono::{DateTime, Duration, Utc};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::number::{optional_u32, optional_uuid};
use super::time::optional_instant;
use super::{Faults, Input};
use crate::domain::place::in_range;
use crate::domain::report::{Described, Report, ReportState, Sighting, Stage, WingPads};
use crate::domain::{AbundanceClass, Invalid, Slug};

/// Longest visit a report may speak of.
const LONGEST_VISIT_HOURS: i64 = 48;

/// A report to file. A taxon without a sighting counts as none seen.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct ReportInput {
    /// Made by the client, unique for ever.
    #[serde(deserialize_with = "optional_uuid")]
    #[garde(required)]
    #[schema(value_type = Uuid, example = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10")]
    pub id: Option<Uuid>,
    /// Watershed slug.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^[A-Za-z0-9_-]{1,64}$", example = "ostrey")]
    pub watershed: Option<String>,
    /// Reach slug; never a spot.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^[A-Za-z0-9_-]{1,64}$", example = "mill-meadow")]
    pub reach: Option<String>,
    /// Start of watching.
    #[serde(deserialize_with = "optional_instant")]
    #[garde(required)]
    #[schema(value_type = DateTime<Utc>, example = "2026-05-20T18:00:00Z")]
    pub started_at: Option<DateTime<Utc>>,
    /// End of watching, after the start, at most 48 hours later.
    #[serde(deserialize_with = "optional_instant")]
    #[garde(required)]
    #[schema(value_type = DateTime<Utc>, example = "2026-05-20T20:00:00Z")]
    pub ended_at: Option<DateTime<Utc>>,
    /// How many people watched, 1 when left out.
    #[serde(deserialize_with = "optional_u32")]
    #[garde(range(min = 1, max = 100))]
    #[schema(minimum = 1, maximum = 100)]
    pub people: Option<u32>,
    /// Taxa looked for; null means all of the watershed.
    #[garde(length(min = 1, max = 100))]
    #[schema(min_items = 1, max_items = 100)]
    pub looked_for: Option<Vec<String>>,
    /// Water temperature measured, degrees Celsius.
    #[garde(skip)]
    #[schema(minimum = -2, maximum = 45)]
    pub water_c: Option<f64>,
    /// Sky in the member's words.
    #[garde(length(chars, max = 100))]
    #[schema(max_length = 100)]
    pub sky: Option<String>,
    /// Anything else, plain text.
    #[garde(length(chars, max = 4000))]
    #[schema(max_length = 4000)]
    pub note: Option<String>,
    /// What was seen; empty for a blank report.
    #[garde(length(max = 100), dive)]
    #[schema(max_items = 100)]
    pub sightings: Option<Vec<SightingInput>>,
}

/// One thing seen: a taxon, or a description of what could not be named.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct SightingInput {
    /// Taxon slug.
    #[garde(skip)]
    #[schema(pattern = "^[A-Za-z0-9_-]{1,64}$", example = "ephemera-danica")]
    pub taxon: Option<String>,
    /// An insect without a name.
    #[garde(dive)]
    pub described: Option<DescribedInput>,
    /// Life stage.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^(nymph|pupa|emerger|dun|adult|spinner|spent)$", example = "dun")]
    pub stage: Option<String>,
    /// Abundance class.
    #[garde(skip)]
    #[schema(pattern = "^(sparse|moderate|heavy)$", example = "moderate")]
    pub abundance_class: Option<String>,
    /// Count.
    #[serde(deserialize_with = "optional_u32")]
    #[garde(range(min = 1, max = 1_000_000))]
    #[schema(minimum = 1, maximum = 1_000_000)]
    pub count: Option<u32>,
    /// Colour of the wing pads, nymphs only.
    #[garde(skip)]
    #[schema(pattern = "^(dark|light)$")]
    pub wing_pads: Option<String>,
    /// Behaviour in the member's words.
    #[garde(length(chars, max = 500))]
    #[schema(max_length = 500)]
    pub behaviour: Option<String>,
}

/// An insect the member could not name.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct DescribedInput {
    /// Body length without tails, mm.
    #[garde(required, range(min = 0.5, max = 100.0))]
    #[schema(value_type = f64, minimum = 0.5, maximum = 100)]
    pub length_mm: Option<f64>,
    /// Colour in the member's words.
    #[garde(required, length(chars, min = 1, max = 100))]
    #[schema(value_type = String, min_length = 1, max_length = 100)]
    pub colour: Option<String>,
}

/// A checked report on its way in, before the service adds what it knows itself.
#[derive(Debug, Clone, PartialEq)]
pub struct NewReport {
    /// Made by the client.
    pub id: Uuid,
    /// Watershed.
    pub watershed: Slug,
    /// Reach.
    pub reach: Slug,
    /// Start.
    pub started_at: DateTime<Utc>,
    /// End.
    pub ended_at: DateTime<Utc>,
    /// People.
    pub people: u32,
    /// Taxa looked for.
    pub looked_for: Option<Vec<Slug>>,
    /// Water temperature, degrees Celsius.
    pub water_c: Option<f64>,
    /// Sky.
    pub sky: Option<String>,
    /// Note.
    pub note: Option<String>,
    /// Sightings.
    pub sightings: Vec<Sighting>,
}

impl NewReport {
    /// The report as stored, with what the service knows about it.
    #[must_use]
    pub fn into_report(self, state: ReportState, received_at: DateTime<Utc>, token_id: Uuid, version: u32) -> Report {
        Report {
            id: self.id,
            watershed: self.watershed,
            reach: self.reach,
            started_at: self.started_at,
            ended_at: self.ended_at,
            people: self.people,
            looked_for: self.looked_for,
            water_c: self.water_c,
            sky: self.sky,
            note: self.note,
            sightings: self.sightings,
            state,
            received_at,
            token_id,
            version,
        }
    }

    /// True when `report` says the same as this one.
    #[must_use]
    pub fn says_the_same_as(&self, report: &Report) -> bool {
        let same = self.clone().into_report(report.state, report.received_at, report.token_id, report.version);
        same == *report
    }
}

impl From<&Report> for ReportInput {
    fn from(r: &Report) -> Self {
        Self {
            id: Some(r.id),
            watershed: Some(r.watershed.to_string()),
            reach: Some(r.reach.to_string()),
            started_at: Some(r.started_at),
            ended_at: Some(r.ended_at),
            people: Some(r.people),
            looked_for: r.looked_for.as_ref().map(|taxa| taxa.iter().map(Slug::to_string).collect()),
            water_c: r.water_c,
            sky: r.sky.clone(),
            note: r.note.clone(),
            sightings: Some(
                r.sightings
                    .iter()
                    .map(|s| SightingInput {
                        taxon: s.taxon.as_ref().map(Slug::to_string),
                        described: s
                            .described
                            .as_ref()
                            .map(|d| DescribedInput { length_mm: Some(d.length_mm), colour: Some(d.colour.clone()) }),
                        stage: Some(s.stage.as_str().to_owned()),
                        abundance_class: s.abundance_class.map(|class| class.as_str().to_owned()),
                        count: s.count,
                        wing_pads: s.wing_pads.map(|pads| pads.as_str().to_owned()),
                        behaviour: s.behaviour.clone(),
                    })
                    .collect(),
            ),
        }
    }
}

impl Input for ReportInput {
    type Domain = NewReport;

    fn into_domain(self, faults: &mut Faults) -> Option<NewReport> {
        let watershed = self.watershed.and_then(|text| faults.check("#/watershed", Slug::new(&text)));
        let reach = self.reach.and_then(|text| faults.check("#/reach", Slug::new(&text)));
        if let (Some(start), Some(end)) = (self.started_at, self.ended_at) {
            if end <= start {
                faults.add("#/ended_at", "out_of_order", "must be later than started_at");
            } else if end - start > Duration::hours(LONGEST_VISIT_HOURS) {
                faults.add(
                    "#/ended_at",
                    "too_long",
                    format!("must be within {LONGEST_VISIT_HOURS} hours of started_at"),
                );
            }
        }
        let water_c = faults.check_optional("#/water_c", self.water_c, |value| {
            in_range("water_c", value, -2.0, 45.0, "a water temperature in degrees Celsius between -2 and 45")
        });
        let mut looked_for = None;
        if let Some(words) = self.looked_for {
            let mut taxa: Vec<Slug> = Vec::new();
            for (index, text) in words.iter().enumerate() {
                if let Some(slug) = faults.check(&format!("#/looked_for/{index}"), Slug::new(text))
                    && !taxa.contains(&slug)
                {
                    taxa.push(slug);
                }
            }
            looked_for = Some(taxa);
        }
        let mut sightings = Vec::new();
        for (index, sighting) in self.sightings.unwrap_or_default().into_iter().enumerate() {
            sightings.extend(sighting.into_domain(&format!("#/sightings/{index}"), faults));
        }
        Some(NewReport {
            id: self.id?,
            watershed: watershed?,
            reach: reach?,
            started_at: self.started_at?,
            ended_at: self.ended_at?,
            people: self.people.unwrap_or(1),
            looked_for,
            water_c: water_c?,
            sky: self.sky,
            note: self.note,
            sightings,
        })
    }
}

impl SightingInput {
    fn into_domain(self, pointer: &str, faults: &mut Faults) -> Option<Sighting> {
        let at = |field: &str| format!("{pointer}/{field}");
        match (&self.taxon, &self.described) {
            (None, None) => faults.add(at("taxon"), "missing", "taxon or described is required"),
            (Some(_), Some(_)) => faults.add(at("described"), "exclusive", "must not stand beside taxon"),
            _ => {}
        }
        let taxon = faults.check_optional(&at("taxon"), self.taxon, |text| Slug::new(&text));
        let stage = self.stage.and_then(|text| faults.check(&at("stage"), Stage::parse(&text)));
        let class = faults.check_optional(&at("abundance_class"), self.abundance_class, |text| seen_class(&text));
        let pads = faults.check_optional(&at("wing_pads"), self.wing_pads, |text| WingPads::parse(&text));
        if matches!(pads, Some(Some(_))) && stage.is_some_and(|s| s != Stage::Nymph) {
            faults.add(at("wing_pads"), "exclusive", "belongs to nymphs only");
        }
        let described = match self.described {
            None => None,
            Some(d) => Some(Described { length_mm: d.length_mm?, colour: d.colour? }),
        };
        Some(Sighting {
            taxon: taxon?,
            described,
            stage: stage?,
            abundance_class: class?,
            count: self.count,
            wing_pads: pads?,
            behaviour: self.behaviour,
        })
    }
}

/// A class of something seen; `none` is what a taxon without a sighting stands for.
fn seen_class(text: &str) -> Result<AbundanceClass, Invalid> {
    match AbundanceClass::parse(text)? {
        AbundanceClass::None => Err(Invalid::new(
            "abundance_class",
            text,
            "must be one of sparse, moderate, heavy; leave the sighting out when none was seen",
        )),
        seen => Ok(seen),
    }
}

/// A keeper's decision on a report.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct DecisionInput {
    /// `accepted`, `needs_info` or `rejected`.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^(accepted|needs_info|rejected)$", example = "rejected")]
    pub state: Option<String>,
    /// Why, for the member and the history; needed with `rejected` and `needs_info`.
    #[garde(length(chars, max = 1000))]
    #[schema(max_length = 1000, example = "another river")]
    pub reason: Option<String>,
}

/// A checked decision.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    /// The new state.
    pub state: ReportState,
    /// Why.
    pub reason: Option<String>,
}

impl Input for DecisionInput {
    type Domain = Decision;

    fn into_domain(self, faults: &mut Faults) -> Option<Decision> {
        let state = self.state.and_then(|text| {
            let decided = ReportState::parse(&text).and_then(|state| match state {
                ReportState::New => Err(Invalid::new("state", &text, "must be one of accepted, needs_info, rejected")),
                decided => Ok(decided),
            });
            faults.check("#/state", decided)
        });
        let reason = self.reason.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty());
        if reason.is_none() && matches!(state, Some(ReportState::Rejected | ReportState::NeedsInfo)) {
            faults.add("#/reason", "missing", "is required with rejected and needs_info");
        }
        Some(Decision { state: state?, reason })
    }
}
