//! A report as JSON text, for the history of its edits.

use serde_json::{Value, json};

use crate::domain::{AbundanceClass, Report, Sighting, Slug, Stage};

/// The whole report, internal fields included. Kept in `report_revision` and read by people only.
pub(super) fn report_document(report: &Report) -> String {
    let slugs = |list: &Vec<Slug>| list.iter().map(|slug| slug.as_str().to_owned()).collect::<Vec<_>>();
    json!({
        "id": report.id.to_string(),
        "watershed": report.watershed.as_str(),
        "reach": report.reach.as_str(),
        "started_at": report.started_at.to_rfc3339(),
        "ended_at": report.ended_at.to_rfc3339(),
        "people": report.people,
        "looked_for": report.looked_for.as_ref().map(slugs),
        "water_c": report.water_c,
        "sky": report.sky,
        "note": report.note,
        "sightings": report.sightings.iter().map(sighting_document).collect::<Vec<_>>(),
        "state": report.state.as_str(),
        "received_at": report.received_at.to_rfc3339(),
        "token_id": report.token_id.to_string(),
        "version": report.version,
    })
    .to_string()
}

fn sighting_document(sighting: &Sighting) -> Value {
    json!({
        "taxon": sighting.taxon.as_ref().map(Slug::as_str),
        "described": sighting.described.as_ref()
            .map(|seen| json!({ "length_mm": seen.length_mm, "colour": seen.colour })),
        "stage": Stage::as_str(sighting.stage),
        "abundance_class": sighting.abundance_class.map(AbundanceClass::as_str),
        "count": sighting.count,
        "wing_pads": sighting.wing_pads.map(crate::domain::report::WingPads::as_str),
        "behaviour": sighting.behaviour,
    })
}
