//! Emergence records: visits, traps, first sightings.
//!
//! `site,date_from,date_to,taxon`, then `count` or `abundance_class`, and optional columns.

use std::collections::HashMap;
use std::hash::{BuildHasher as _, RandomState};
use std::io::{Read, Seek};

use super::columns::{Column, ColumnNames};
use super::passes::{Checked, changed};
use super::record_row::{self, Context};
use super::repeats::Seen;
use super::table::Table;
use super::value_map::ValueMap;
use super::values::{Calendar, Fields, Names};
use super::visits::Visits;
use crate::domain::{AbundanceClass, Record, Slug};
use crate::ingest::faults::{Fault, FaultKind, Faults};

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
pub(super) const RAIN: usize = 17;
const COLUMNS: [Column; 18] = [
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
    Column { name: "rain_mm", aliases: &[] },
];

/// How a file of records is to be understood.
#[derive(Debug, Clone)]
pub struct Records {
    /// Reaches that it may speak of.
    pub reaches: Vec<Slug>,
    /// Taxa that it may speak of.
    pub taxa: Vec<Slug>,
    /// Today and the time zone.
    pub calendar: Calendar,
    /// Kept with each record.
    pub source: String,
    /// Names of columns where the file has others.
    pub names: ColumnNames,
    /// Codes, letters and labels of the file.
    pub values: ValueMap,
    /// Rows without an id that speak of one record are visits of their own, in the order of the file.
    pub separate_visits: bool,
    /// Two of them mark a key, one what a row says. The same in all passes over a file.
    marks: [RandomState; 2],
}

/// A checked file of records.
#[derive(Debug, Clone, Default)]
pub struct CheckedRecords {
    /// What was found.
    pub file: Checked,
    /// True when an `id` is the number of a sample, not of a record.
    samples: bool,
}

/// A key in 128 bits. That two keys of one file fall together is past believing.
type Mark = [u64; 2];

impl Records {
    /// Records of `taxa` at `reaches`.
    #[must_use]
    pub fn new(
        reaches: Vec<Slug>,
        taxa: Vec<Slug>,
        calendar: Calendar,
        source: String,
        names: ColumnNames,
        values: ValueMap,
    ) -> Self {
        let marks = [RandomState::new(), RandomState::new()];
        Self { reaches, taxa, calendar, source, names, values, separate_visits: false, marks }
    }

    /// Reads all of `file` and finds what is wrong, keeping under 200 bytes of a row.
    ///
    /// When the result has fatal faults no row of the file may be used. Where one `id` names several
    /// taxa, it is the number of a sample, not of a record; the records of the file are then known
    /// as `id/reach/taxon`.
    #[must_use]
    pub fn check(&self, file: &mut (impl Read + Seek)) -> CheckedRecords {
        let mut table = match self.open(file) {
            Ok(table) => table,
            Err(faults) => return CheckedRecords { file: Checked::refused(faults), samples: false },
        };
        let mut checked = Checked::begun(table.unknown_columns());
        // Which of the two holds is known only at the end of the file.
        let room = table.rows_left();
        let (mut by_id, mut by_sample) = (Seen::with_room(room), Seen::with_room(room));
        let mut taxon_of: HashMap<Mark, u64> = HashMap::new();
        let mut samples = false;
        let mut visits = Visits::new(self.separate_visits);
        let context = self.context();
        let read = |fields: &mut Fields<'_>| record_row::read(fields, &context);
        checked.count(&mut table, read, |line, mut record: Record| {
            let (mark, shown) = (self.says(&record), (record.count, record.abundance_class));
            visits.number(&mut record);
            by_id.add(line, self.mark(&record.key()), mark, shown);
            if let Some(id) = &record.external_id {
                let taxon = self.marks[0].hash_one(record.taxon.key());
                samples |= *taxon_of.entry(self.mark(id)).or_insert(taxon) != taxon;
                name_sample(&mut record);
            }
            by_sample.add(line, self.mark(&record.key()), mark, shown);
            true
        });
        let column = table.name(COUNT).or_else(|| table.name(CLASS)).unwrap_or("file").to_owned();
        let fault = |first: u32, line: u32, (count, class): (Option<u32>, Option<AbundanceClass>)| {
            let value = count.map(|count| count.to_string());
            let value = value.or_else(|| class.map(|class| class.as_str().to_owned())).unwrap_or_default();
            let reason = format!("line {first} says something else of the same record");
            Fault::new(u64::from(line), &column, &value, FaultKind::Conflict, reason)
        };
        let seen = if samples { by_sample } else { by_id };
        let settled = seen.settle(&mut checked.faults, fault, |_| {});
        checked.settle(settled);
        CheckedRecords { file: checked, samples }
    }

    /// Reads a `checked` file again and gives `take` the records that are to be used, until it says
    /// no.
    ///
    /// # Errors
    /// A [`Fault`] when the file was changed meanwhile; what was given must then not be used.
    pub fn give(
        &self,
        file: &mut (impl Read + Seek),
        checked: &CheckedRecords,
        mut take: impl FnMut(Record) -> bool,
    ) -> Result<(), Fault> {
        let mut table = self.open(file).map_err(|_| changed())?;
        let mut visits = Visits::new(self.separate_visits);
        let context = self.context();
        let read = |fields: &mut Fields<'_>| record_row::read(fields, &context);
        checked.file.give(
            &mut table,
            read,
            |record| self.says(record),
            |mut record| {
                visits.number(&mut record);
                if checked.samples {
                    name_sample(&mut record);
                }
                take(record)
            },
        )
    }

    fn open<'s, R: Read + Seek>(&'s self, file: &'s mut R) -> Result<Table<'s, &'s mut R>, Faults> {
        let table = Table::open(file, &COLUMNS, &self.names, &self.values, MAX_ROWS)?;
        let mut needed = vec![SITE, DATE_FROM, DATE_TO, TAXON];
        if !table.has(CLASS) && !table.has(KIND) {
            needed.push(COUNT);
        }
        table.need(&needed)?;
        Ok(table)
    }

    fn context(&self) -> Context<'_> {
        Context {
            reaches: &self.reaches,
            taxa: &self.taxa,
            reach_names: Names::new("reach", &self.reaches),
            taxon_names: Names::new("taxon", &self.taxa),
            calendar: self.calendar,
            source: &self.source,
        }
    }

    fn mark(&self, text: &str) -> Mark {
        self.marks.each_ref().map(|marks| marks.hash_one(text))
    }

    /// A number that is the same for rows that say the same.
    fn says(&self, record: &Record) -> u64 {
        // The form for debugging has every field and every digit.
        self.marks[0].hash_one(format!("{record:?}"))
    }
}

/// Names the record of one taxon in a sample.
fn name_sample(record: &mut Record) {
    let (reach, taxon) = (record.reach.key(), record.taxon.key());
    record.external_id = record.external_id.take().map(|id| format!("{id}/{reach}/{taxon}"));
}
