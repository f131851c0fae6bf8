//! Emergence records: visits, traps, first sightings.
//!
//! `site,date_from,date_to,taxon`, then `count` or `abundance_class`, and optional columns.

use std::collections::HashMap;
use std::io::{Read, Seek};

use super::Parsed;
use super::columns::{Column, ColumnNames};
use super::record_row::{self, Context};
use super::repeats::settle;
use super::table::Table;
use super::value_map::ValueMap;
use super::values::{Calendar, Fields, Names};
use crate::domain::{Record, Slug};
use crate::ingest::faults::{Fault, FaultKind};

/// Most rows of one file.
pub const MAX_ROWS: u64 = 250_000;

pub(super) const SITE: usize = 0;
pub(super) const DATE_FROM: usize = 1;
pub(super) const DATE_TO: usize = 2;
pub(super) const TAXON: usize = 3;
pub(super) const COUNT: usize = 4;
pub(super) const CLASS: usize = 5;
pub(super) const KIND: usize = 6;
pub(super) const EFFORT: usize = 7;
pub(super) const HOUR_START: usize = 8;
pub(super) const HOUR_END: usize = 9;
pub(super) const STAGE: usize = 10;
pub(super) const BROOD: usize = 11;
pub(super) const ID: usize = 12;
pub(super) const KNOWN: usize = 13;
pub(super) const CLOUD: usize = 14;
pub(super) const WIND: usize = 15;
pub(super) const AIR: usize = 16;
const COLUMNS: [Column; 17] = [
    Column { name: "site", aliases: &["reach"] },
    Column { name: "date_from", aliases: &[] },
    Column { name: "date_to", aliases: &[] },
    Column { name: "taxon", aliases: &[] },
    Column { name: "count", aliases: &[] },
    Column { name: "abundance_class", aliases: &[] },
    Column { name: "kind", aliases: &[] },
    Column { name: "effort", aliases: &[] },
    Column { name: "hour_start", aliases: &[] },
    Column { name: "hour_end", aliases: &[] },
    Column { name: "stage", aliases: &[] },
    Column { name: "brood", aliases: &[] },
    Column { name: "id", aliases: &[] },
    Column { name: "known_at", aliases: &[] },
    Column { name: "cloud", aliases: &[] },
    Column { name: "wind_kmh", aliases: &[] },
    Column { name: "air_c", aliases: &[] },
];

/// Reads a file of records of `taxa` at `reaches`; `source` is kept with each.
///
/// When the result has fatal faults no row of it may be used. Where one `id` names several taxa, it
/// is the number of a sample, not of a record; the records of the file are then known as
/// `id/reach/taxon`.
#[must_use]
pub fn parse(
    reader: impl Read + Seek,
    reaches: &[Slug],
    taxa: &[Slug],
    calendar: Calendar,
    source: &str,
    names: &ColumnNames,
    values: &ValueMap,
) -> Parsed<Record> {
    let mut table = match Table::open(reader, &COLUMNS, names, values, MAX_ROWS) {
        Ok(table) => table,
        Err(faults) => return Parsed::refused(faults),
    };
    let mut needed = vec![SITE, DATE_FROM, DATE_TO, TAXON];
    if !table.has(CLASS) && !table.has(KIND) {
        needed.push(COUNT);
    }
    if let Err(faults) = table.need(&needed) {
        return Parsed::refused(faults);
    }
    let context = Context {
        reaches,
        taxa,
        reach_names: Names::new("reach", reaches),
        taxon_names: Names::new("taxon", taxa),
        calendar,
        source,
    };
    let mut parsed =
        Parsed { unknown_columns: table.unknown_columns(), ..Parsed::refused(crate::ingest::Faults::default()) };
    let mut raw = csv::StringRecord::new();
    while let Some(row) = table.read(&mut raw) {
        parsed.total += 1;
        let mut fields = match row {
            Ok(row) => Fields::new(row),
            Err(fault) => {
                parsed.rejected += 1;
                parsed.faults.push(fault);
                continue;
            }
        };
        match record_row::read(&mut fields, &context) {
            Some(record) if fields.faults.is_empty() => parsed.rows.push((fields.row.line, record)),
            _ => {
                parsed.rejected += 1;
                fields.faults.into_iter().for_each(|fault| parsed.faults.push(fault));
            }
        }
    }
    name_samples(&mut parsed);
    let column = table.name(COUNT).or_else(|| table.name(CLASS)).unwrap_or("file").to_owned();
    settle(&mut parsed, key, PartialEq::eq, |first, line, record| {
        let value = record.count.map(|count| count.to_string());
        let value = value.or_else(|| record.abundance_class.map(|class| class.as_str().to_owned()));
        let reason = format!("line {first} says something else of the same record");
        Fault::new(u64::from(line), &column, &value.unwrap_or_default(), FaultKind::Conflict, reason)
    });
    parsed
}

/// What makes two rows the same record: the recorder's identifier, or else reach, taxon, brood,
/// kind, days, hours and stage.
#[must_use]
pub fn key(record: &Record) -> String {
    match &record.external_id {
        Some(id) => format!("id {id}"),
        None => format!(
            "of {} {} {:?} {} {:?} {} {:?} {:?}",
            record.reach.key(),
            record.taxon.key(),
            record.brood,
            record.kind.as_str(),
            record.date_from,
            record.date_to,
            record.hours,
            record.stage,
        ),
    }
}

fn name_samples(parsed: &mut Parsed<Record>) {
    let mut taxa: HashMap<&str, &Slug> = HashMap::new();
    let shared = parsed.rows.iter().any(|(_, record)| {
        let Some(id) = record.external_id.as_deref() else { return false };
        *taxa.entry(id).or_insert(&record.taxon) != &record.taxon
    });
    if shared {
        for (_, record) in &mut parsed.rows {
            let (reach, taxon) = (record.reach.key(), record.taxon.key());
            record.external_id = record.external_id.take().map(|id| format!("{id}/{reach}/{taxon}"));
        }
    }
}
