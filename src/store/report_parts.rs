//! The lists inside a report: taxa looked for and sightings.

use std::collections::HashMap;

use uuid::Uuid;

use super::arg::{Arg, args};
use super::keys::Ids;
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::report::{Described, WingPads};
use crate::domain::{AbundanceClass, Report, ReportState, Sighting, Slug, Stage};

/// What [`read_reports`] reads, of report `p`, watershed `w` and reach `e`.
macro_rules! COLUMNS {
    () => {
        "p.id, w.slug AS watershed, e.slug AS reach, p.started_at, p.ended_at, p.people, p.looked_for_all, \
         p.water_c, p.sky, p.note, p.state, p.received_at, p.token_id, p.version"
    };
}
pub(super) use COLUMNS;

/// Reports whose lists are read at once.
const CHUNK: usize = 500;

/// Stores the lists of `report`, which has none yet.
pub(super) async fn insert_parts(tx: &mut Tx, report: &Report) -> Result<(), StoreError> {
    const LOOKED_FOR: &str = "INSERT INTO looked_for (report_id, position, taxon_id) VALUES ($1, $2, $3)";
    const SIGHTING: &str = "INSERT INTO sighting (report_id, position, taxon_id, described_length_mm, \
        described_colour, stage, abundance_class, count, wing_pads, behaviour) \
        VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)";
    let taxa = Ids::taxa(tx).await?;
    for (position, taxon) in (0_i64..).zip(report.looked_for.iter().flatten()) {
        tx.execute(LOOKED_FOR, args![report.id, position, taxa.get(taxon)?]).await?;
    }
    for (position, sighting) in (0_i64..).zip(&report.sightings) {
        let taxon_id = sighting.taxon.as_ref().map(|taxon| taxa.get(taxon)).transpose()?;
        let args = args![
            report.id,
            position,
            taxon_id,
            sighting.described.as_ref().map(|seen| seen.length_mm),
            sighting.described.as_ref().map(|seen| seen.colour.as_str()),
            sighting.stage.as_str(),
            sighting.abundance_class.map(AbundanceClass::as_str),
            sighting.count,
            sighting.wing_pads.map(WingPads::as_str),
            &sighting.behaviour,
        ];
        tx.execute(SIGHTING, args).await?;
    }
    Ok(())
}

/// Removes the lists of a report that is about to be given new ones.
pub(super) async fn delete_parts(tx: &mut Tx, id: Uuid) -> Result<(), StoreError> {
    tx.execute("DELETE FROM looked_for WHERE report_id = $1", args![id]).await?;
    tx.execute("DELETE FROM sighting WHERE report_id = $1", args![id]).await?;
    Ok(())
}

/// Reads rows of [`COLUMNS`] with their lists, in the same order.
pub(super) async fn read_reports(tx: &mut Tx, rows: &[Row]) -> Result<Vec<Report>, StoreError> {
    const LOOKED_FOR: &str = "SELECT l.report_id, t.slug AS taxon FROM looked_for l \
        JOIN taxon t ON t.id = l.taxon_id WHERE l.report_id IN ";
    const SIGHTING: &str = "SELECT s.report_id, t.slug AS taxon, s.described_length_mm, s.described_colour, s.stage, \
        s.abundance_class, s.count, s.wing_pads, s.behaviour FROM sighting s \
        LEFT JOIN taxon t ON t.id = s.taxon_id WHERE s.report_id IN ";
    let mut looked_for: HashMap<Uuid, Vec<Slug>> = HashMap::new();
    let mut sightings: HashMap<Uuid, Vec<Sighting>> = HashMap::new();
    for chunk in rows.chunks(CHUNK) {
        let ids = chunk.iter().map(|row| row.text("id").map(Arg::from));
        let args = ids.collect::<Result<Vec<_>, _>>()?;
        let tail = " ORDER BY report_id, position";
        let sql = tx.dialect().in_list(LOOKED_FOR, chunk.len()) + tail;
        for row in tx.rows_built("looked_for", sql, args.clone()).await? {
            looked_for.entry(row.uuid("report_id")?).or_default().push(row.slug("taxon")?);
        }
        let sql = tx.dialect().in_list(SIGHTING, chunk.len()) + tail;
        for row in tx.rows_built("sighting", sql, args).await? {
            sightings.entry(row.uuid("report_id")?).or_default().push(read_sighting(&row)?);
        }
    }
    let mut reports = Vec::with_capacity(rows.len());
    for row in rows {
        let id = row.uuid("id")?;
        let looked_for = looked_for.remove(&id).unwrap_or_default();
        let looked_for = if row.flag("looked_for_all")? { None } else { Some(looked_for) };
        reports.push(read_report(row, id, looked_for, sightings.remove(&id).unwrap_or_default())?);
    }
    Ok(reports)
}

fn read_report(
    row: &Row,
    id: Uuid,
    looked_for: Option<Vec<Slug>>,
    sightings: Vec<Sighting>,
) -> Result<Report, StoreError> {
    Ok(Report {
        id,
        watershed: row.slug("watershed")?,
        reach: row.slug("reach")?,
        started_at: row.instant("started_at")?,
        ended_at: row.instant("ended_at")?,
        people: row.number("people")?,
        looked_for,
        water_c: row.opt_real("water_c")?,
        sky: row.opt_text("sky")?,
        note: row.opt_text("note")?,
        sightings,
        state: row.word("state", ReportState::parse)?,
        received_at: row.instant("received_at")?,
        token_id: row.uuid("token_id")?,
        version: row.number("version")?,
    })
}

fn read_sighting(row: &Row) -> Result<Sighting, StoreError> {
    let described = row.opt_real("described_length_mm")?.zip(row.opt_text("described_colour")?);
    Ok(Sighting {
        taxon: row.opt_slug("taxon")?,
        described: described.map(|(length_mm, colour)| Described { length_mm, colour }),
        stage: row.word("stage", Stage::parse)?,
        abundance_class: row.opt_word("abundance_class", AbundanceClass::parse)?,
        count: row.opt_number("count")?,
        wing_pads: row.opt_word("wing_pads", WingPads::parse)?,
        behaviour: row.opt_text("behaviour")?,
    })
}
