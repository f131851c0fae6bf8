//! An archive as rows of our own form.

use std::collections::HashMap;
use std::io::{Read, Seek};

use chrono_tz::Tz;

use super::facts::Facts;
use super::meta::{self, Described};
use super::said::{OF_EVENT, Said};
use super::unpack::{Unpacked, fault};
use super::{rows, terms};
use crate::domain::Slug;
use crate::ingest::csv::guard::guarded;
use crate::ingest::csv::records::MAX_ROWS;
use crate::ingest::csv::value_map::ValueMap;
use crate::ingest::faults::{Fault, FaultKind, Faults};

/// Most facts of an archive.
const MAX_FACTS: u64 = 4 * MAX_ROWS;
/// Our columns, and what a fault in each is told of.
const COLUMNS: [(&str, &str); 18] = [
    ("site", "locationID"),
    ("date_from", "eventDate (first day)"),
    ("date_to", "eventDate"),
    ("taxon", "scientificName"),
    ("count", "individualCount"),
    ("abundance_class", "organismQuantity"),
    ("kind", "samplingProtocol"),
    ("effort", "sampleSizeValue"),
    ("hour_start", "eventTime"),
    ("hour_end", "eventTime (end)"),
    ("stage", "lifeStage"),
    ("brood", terms::facts::BROOD),
    ("id", "recordNumber"),
    ("known_at", terms::facts::KNOWN_AT),
    ("cloud", terms::facts::CLOUD),
    ("wind_kmh", terms::facts::WIND),
    ("air_c", terms::facts::AIR),
    ("rain_mm", terms::facts::RAIN),
];

/// A reach that an archive may speak of.
#[derive(Debug, Clone)]
pub struct KnownReach {
    /// Its slug.
    pub slug: Slug,
    /// Its name.
    pub name: String,
}

/// A taxon that an archive may speak of.
#[derive(Debug, Clone)]
pub struct KnownTaxon {
    /// Its slug.
    pub slug: Slug,
    /// Its scientific name.
    pub scientific_name: String,
    /// Its order.
    pub order: Option<String>,
}

/// What is known before an archive is read.
#[derive(Debug, Clone)]
pub struct Known {
    /// The watershed.
    pub watershed: Slug,
    /// In which its days begin.
    pub time_zone: Tz,
    /// Its reaches.
    pub reaches: Vec<KnownReach>,
    /// Its taxa.
    pub taxa: Vec<KnownTaxon>,
}

/// The occurrences of an archive in our own form.
#[derive(Debug, Clone, Default)]
pub struct Converted {
    /// The file of occurrences; the lines are its lines.
    pub occurrences: String,
    /// Records with a header row, each on the line of its occurrence.
    pub csv: Vec<u8>,
    /// Our columns and their names in `csv`.
    pub columns: Vec<(&'static str, &'static str)>,
    /// How many lines `csv` has before those of the file.
    pub shift: u64,
    /// Faults of rows that have no place in our form.
    pub faults: Faults,
    /// How many rows these are.
    pub rejected: u64,
    /// Facts and files that mean nothing here.
    pub ignored: Vec<String>,
    /// Events at which nothing was looked for by name: they say nothing of any taxon.
    pub events_without_occurrence: u64,
}

/// What an event says under [`OF_EVENT`], and whether an occurrence has called on it.
type Events = HashMap<String, ([String; OF_EVENT.len()], bool)>;

/// Reads an archive.
///
/// # Errors
/// The [`Fault`] that makes it unusable as a whole.
pub fn convert(file: impl Read + Seek, known: &Known, map: &ValueMap) -> Result<Converted, Fault> {
    let mut zip = Unpacked::open(file)?;
    let files = describe(&mut zip)?;
    let of_type = |row_type: &str| files.iter().find(|file| file.row_type == row_type);
    let Some(occurrences) = of_type(terms::OCCURRENCE) else {
        let reason = "no table of the archive holds occurrences";
        return Err(fault(meta::NAME, "", FaultKind::MissingColumn, reason));
    };
    let mut events = Events::new();
    let core = of_type(terms::EVENT).filter(|file| file.core);
    if let Some(core) = core {
        read_events(&mut zip, core, &mut events)?;
    } else if !occurrences.core {
        let reason = "the core of the archive must be events or occurrences";
        return Err(fault(meta::NAME, "", FaultKind::MissingColumn, reason));
    }
    let mut facts = Facts::default();
    let is_facts = |file: &&Described| file.row_type.ends_with("MeasurementOrFact");
    for file in files.iter().filter(is_facts) {
        let bytes = zip.read(&file.file)?;
        rows::each(file, bytes, MAX_FACTS, |row| {
            facts.add(row);
            Ok(())
        })?;
    }
    let mut out =
        Converted { occurrences: occurrences.file.clone(), columns: COLUMNS.to_vec(), ..Converted::default() };
    let mut lines = Lines::default();
    // Rows without a header begin on line 1, where ours stands.
    out.shift = u64::from(occurrences.header_rows == 0);
    let by_name = !occurrences.fields.iter().chain(core.into_iter().flat_map(|core| &core.fields)).any(is_location);
    if by_name {
        out.columns[0].1 = "locality";
    }
    lines.push(1, out.columns.iter().map(|(_, theirs)| *theirs));
    let bytes = zip.read(&occurrences.file)?;
    rows::each(occurrences, bytes, MAX_ROWS, |row| {
        let event_id = if core.is_some() { row.id().to_owned() } else { row.get("eventID").to_owned() };
        let mut event = events.get_mut(&event_id);
        if core.is_some() && event.is_none() {
            let reason = "the archive has no such event";
            out.faults.push(Fault::new(row.line, "eventID", &event_id, FaultKind::Unknown, reason));
            out.rejected += 1;
            return Ok(());
        }
        if let Some(event) = &mut event {
            event.1 = true;
        }
        let get = |term: &str| {
            let own = row.get(term);
            let at = OF_EVENT.iter().position(|known| *known == term).filter(|_| own.is_empty());
            at.zip(event.as_ref()).map_or_else(|| own.to_owned(), |(at, event)| event.0[at].clone())
        };
        let own_id = if occurrences.core { row.id() } else { row.get("occurrenceID") };
        let said = Said { line: row.line, get: &get, ids: [own_id, &event_id], facts: &facts, known, map };
        match said.cells() {
            Ok(cells) => lines.push(row.line + out.shift, cells.iter().map(String::as_str)),
            Err(fault) => {
                out.faults.push(fault);
                out.rejected += 1;
            }
        }
        Ok(())
    })?;
    out.csv = lines.bytes;
    out.events_without_occurrence = events.values().filter(|(_, called)| !called).count() as u64;
    out.ignored = facts.ignored.into_iter().collect();
    let used =
        |file: &&Described| !is_facts(file) && ![terms::EVENT, terms::OCCURRENCE].contains(&file.row_type.as_str());
    out.ignored.extend(files.iter().filter(used).map(|file| file.file.clone()));
    Ok(out)
}

fn is_location(field: &meta::Field) -> bool {
    field.term == "locationID"
}

fn describe<R: Read + Seek>(zip: &mut Unpacked<R>) -> Result<Vec<Described>, Fault> {
    if !zip.has(meta::NAME) {
        let reason = "the archive has no meta.xml, which says what its files are";
        return Err(fault("file", "", FaultKind::MissingColumn, reason));
    }
    let mut text = String::new();
    let read = zip.read(meta::NAME)?.take(meta::MAX_BYTES + 1).read_to_string(&mut text);
    read.map_err(|error| fault(meta::NAME, "", FaultKind::Unreadable, format!("cannot be read: {error}")))?;
    if text.len() as u64 > meta::MAX_BYTES {
        return Err(fault(meta::NAME, "", FaultKind::TooLarge, "is larger than any honest one"));
    }
    meta::read(text.trim_start_matches('\u{feff}'))
}

fn read_events<R: Read + Seek>(zip: &mut Unpacked<R>, core: &Described, events: &mut Events) -> Result<(), Fault> {
    let bytes = zip.read(&core.file)?;
    rows::each(core, bytes, MAX_ROWS, |row| {
        let id = Some(row.id()).filter(|id| !id.is_empty()).unwrap_or_else(|| row.get("eventID"));
        if id.is_empty() || events.contains_key(id) {
            let reason = if id.is_empty() { "an event has no identifier" } else { "an event stands twice" };
            return Err(Fault::new(row.line, &core.file, id, FaultKind::Syntax, reason));
        }
        events.insert(id.to_owned(), (OF_EVENT.map(|term| row.get(term).to_owned()), false));
        Ok(())
    })
}

/// Rows on given lines.
#[derive(Default)]
struct Lines {
    bytes: Vec<u8>,
    ended: u64,
}

impl Lines {
    fn push<'c>(&mut self, line: u64, cells: impl Iterator<Item = &'c str>) {
        while self.ended + 1 < line {
            self.bytes.push(b'\n');
            self.ended += 1;
        }
        for (at, cell) in cells.enumerate() {
            self.bytes.extend_from_slice(if at == 0 { b"\"" } else { b",\"" });
            // A row of ours is one line; the mark in place of a break is no character of a slug or number.
            let cell = guarded(cell).replace('"', "\"\"").replace(['\n', '\r'], "\u{fffd}");
            self.bytes.extend_from_slice(cell.as_bytes());
            self.bytes.push(b'"');
        }
        self.bytes.push(b'\n');
        self.ended += 1;
    }
}
