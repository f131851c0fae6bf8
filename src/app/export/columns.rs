//! The columns of an archive: each a term and what it says. `meta.xml` is made of the same tables.

use uuid::Uuid;

use super::archive::Dataset;
use super::samples::{Found, Sample};
use super::tables::{Column, cell_of, clock, instant};
use crate::domain::grid::{CellCentre, GRID_DEGREES, UNCERTAINTY_M};
use crate::domain::{AbundanceClass, Reach, RecordKind, Stage, Taxon, WaterType};
use crate::ingest::archive::terms::{self, facts};

/// An event with its place.
pub(super) struct EventRow<'a> {
    pub(super) sample: &'a Sample,
    pub(super) reach: &'a Reach,
    pub(super) dataset: &'a Dataset,
}

/// An occurrence with its taxon.
pub(super) struct OccurrenceRow<'a> {
    pub(super) sample: &'a Sample,
    pub(super) found: &'a Found,
    pub(super) taxon: &'a Taxon,
    pub(super) dataset: &'a Dataset,
}

/// A fact of an event, or of an occurrence.
pub(super) struct FactRow {
    pub(super) event: Uuid,
    pub(super) occurrence: Option<Uuid>,
    pub(super) kind: &'static str,
    pub(super) value: String,
}

const OF_RECORDS: &str = "Observers and the exact spot on the reach are withheld.";
const OF_REPORTS: &str =
    "Observers, the exact spot on the reach, hours, number of watchers, counts and notes are withheld.";

/// Identifiers as names that hold everywhere.
fn urn(id: Uuid) -> String {
    format!("urn:uuid:{id}")
}

fn sized(row: &EventRow<'_>) -> bool {
    !row.sample.reported
}

/// The core. The first column is the identifier.
pub(super) fn event<'a>() -> [Column<EventRow<'a>>; 22] {
    [
        ("eventID", |r| urn(r.sample.id)),
        ("eventType", |_| "Site Visit".to_owned()),
        ("eventDate", event_date),
        ("eventTime", |r| cell_of(r.sample.like.hours.map(|(a, b)| format!("{}/{}", clock(a), clock(b))))),
        ("samplingProtocol", |r| r.sample.like.kind.as_str().to_owned()),
        ("sampleSizeValue", |r| cell_of(sized(r).then_some(r.sample.like.effort))),
        ("sampleSizeUnit", |r| cell_of(sized(r).then(|| unit(r.sample.like.kind)))),
        ("eventRemarks", remarks),
        ("locationID", |r| format!("{}:{}", r.dataset.watershed.slug, r.reach.slug)),
        ("locality", |r| r.reach.name.clone()),
        ("waterBody", |r| r.dataset.watershed.name.clone()),
        ("habitat", |r| cell_of(r.reach.water_type.map(WaterType::as_str))),
        ("decimalLatitude", |r| CellCentre::of(r.reach.latitude, r.reach.longitude).latitude.to_string()),
        ("decimalLongitude", |r| CellCentre::of(r.reach.latitude, r.reach.longitude).longitude.to_string()),
        ("geodeticDatum", |_| "EPSG:4326".to_owned()),
        ("coordinateUncertaintyInMeters", |_| UNCERTAINTY_M.to_string()),
        ("coordinatePrecision", |_| GRID_DEGREES.to_string()),
        ("informationWithheld", |r| if r.sample.reported { OF_REPORTS } else { OF_RECORDS }.to_owned()),
        ("dataGeneralizations", generalised),
        ("license", |r| r.dataset.license.clone()),
        ("rightsHolder", |r| r.dataset.rights_holder.clone()),
        ("datasetName", |r| r.dataset.name.clone()),
    ]
}

/// What was found. The first column is the event's identifier.
pub(super) fn occurrence<'a>() -> [Column<OccurrenceRow<'a>>; 18] {
    [
        ("eventID", |r| urn(r.sample.id)),
        ("occurrenceID", |r| urn(r.found.id)),
        ("basisOfRecord", |_| "HumanObservation".to_owned()),
        ("occurrenceStatus", |r| r.dataset.vocabulary.status(r.found.record.is_blank()).to_owned()),
        ("taxonID", |r| r.taxon.slug.to_string()),
        ("scientificName", |r| r.taxon.scientific_name.clone()),
        ("vernacularName", |r| cell_of(r.taxon.names.first().map(|known| known.name.as_str()))),
        ("taxonRank", |r| if r.taxon.rank == "group" { String::new() } else { r.taxon.rank.clone() }),
        ("order", |r| cell_of(r.taxon.order.as_ref())),
        ("lifeStage", |r| cell_of(r.found.record.stage.map(life_stage))),
        ("individualCount", individual_count),
        ("organismQuantity", |r| cell_of(told_class(r).map(AbundanceClass::index))),
        ("organismQuantityType", |r| cell_of(told_class(r).map(|_| terms::CLASS_SCALE_TEXT))),
        ("recordNumber", |r| cell_of(r.found.record.external_id.as_ref())),
        ("recordedBy", |_| String::new()),
        ("identificationVerificationStatus", |r| {
            if r.sample.reported { "accepted by the club" } else { "" }.to_owned()
        }),
        ("license", |r| {
            let own = r.dataset.rights_of(&r.found.record).and_then(|rights| rights.licence.as_ref());
            own.unwrap_or(&r.dataset.license).clone()
        }),
        ("bibliographicCitation", |r| {
            cell_of(r.dataset.rights_of(&r.found.record).and_then(|rights| rights.citation.as_ref()))
        }),
    ]
}

/// What no term says. The first column is the event's identifier.
pub(super) const FACT: [Column<FactRow>; 6] = [
    ("eventID", |r| urn(r.event)),
    ("occurrenceID", |r| cell_of(r.occurrence.map(urn))),
    ("measurementID", |r| urn(Uuid::new_v5(&r.occurrence.unwrap_or(r.event), r.kind.as_bytes()))),
    ("measurementType", |r| r.kind.to_owned()),
    ("measurementValue", |r| r.value.clone()),
    ("measurementUnit", |r| cell_of(facts::UNITS.iter().find(|(kind, _)| *kind == r.kind).map(|(_, unit)| *unit))),
];

/// Days covered.
fn event_date(row: &EventRow<'_>) -> String {
    let (first, last) = (row.sample.first_day(), row.sample.like.date_to);
    if first < last { format!("{first}/{last}") } else { last.to_string() }
}

fn unit(kind: RecordKind) -> &'static str {
    if kind == RecordKind::Trap { terms::TRAPS } else { terms::PEOPLE }
}

fn remarks(row: &EventRow<'_>) -> String {
    match (row.sample.like.kind, row.sample.like.date_from) {
        (RecordKind::Trap, None) => "How long the trap had stood is not known; it was emptied on this day.",
        (RecordKind::FirstSighting, _) => "The first sighting of the season.",
        _ => "",
    }
    .to_owned()
}

fn generalised(row: &EventRow<'_>) -> String {
    let place = format!("The place is the centre of the {GRID_DEGREES} degree cell that holds the reach's own point");
    if row.sample.reported { format!("{place}; the time is the day.") } else { format!("{place}.") }
}

/// Darwin Core's word for a stage; ours travels as a fact.
fn life_stage(stage: Stage) -> &'static str {
    match stage {
        Stage::Nymph => "larva",
        Stage::Pupa => "pupa",
        Stage::Emerger | Stage::Dun => "subimago",
        Stage::Adult | Stage::Spinner | Stage::Spent => "imago",
    }
}

/// A blank is a count of none, whatever it was noted as; the class beside it says how.
fn individual_count(row: &OccurrenceRow<'_>) -> String {
    if row.found.record.is_blank() { "0".to_owned() } else { cell_of(row.found.record.count) }
}

/// The class, unless the count says otherwise: the count is what is used.
fn told_class(row: &OccurrenceRow<'_>) -> Option<AbundanceClass> {
    let class = row.found.record.abundance_class?;
    ((class == AbundanceClass::None) == row.found.record.is_blank()).then_some(class)
}

/// The facts of an event and of what was found there.
pub(super) fn facts_of(sample: &Sample) -> Vec<FactRow> {
    let mut rows = Vec::new();
    let mut add = |occurrence: Option<Uuid>, kind: &'static str, value: Option<String>| {
        rows.extend(value.map(|value| FactRow { event: sample.id, occurrence, kind, value }));
    };
    let like = &sample.like;
    if like.kind != RecordKind::Visit {
        add(None, facts::DAY_BEFORE, like.date_from.map(|date| date.to_string()));
    }
    let unknown = like.kind == RecordKind::Trap && like.date_from.is_none();
    add(None, facts::DAYS, unknown.then(|| "unknown".to_owned()));
    add(None, facts::CLOUD, like.weather.cloud.map(|value| value.to_string()));
    add(None, facts::WIND, like.weather.wind_kmh.map(|value| value.to_string()));
    add(None, facts::AIR, like.weather.air_c.map(|value| value.to_string()));
    add(None, facts::RAIN, like.weather.rain_mm.map(|value| value.to_string()));
    for Found { id, record } in &sample.found {
        let counted =
            record.is_blank() && record.count.is_some() && record.abundance_class == Some(AbundanceClass::None);
        add(Some(*id), facts::STAGE, record.stage.map(|stage| stage.as_str().to_owned()));
        add(Some(*id), facts::BROOD, record.brood.map(|brood| brood.to_string()));
        add(Some(*id), facts::COUNTED, counted.then(|| "yes".to_owned()));
        add(Some(*id), facts::KNOWN_AT, (!record.known_assumed).then(|| instant(record.known_at)));
    }
    rows
}
