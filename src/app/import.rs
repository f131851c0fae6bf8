//! Imports of readings and records: parse, check, store in one transaction.

use std::collections::{BTreeMap, HashMap};
use std::io::{Read, Seek};

use super::AppError;
use super::document::import::{DoubtfulRecord, FlaggedReading, ImportDocument, ImportFault, LISTED};
use super::import_quality::{self, local_date};
use crate::clock::Clock;
use crate::domain::{Quality, Reading, ReadingTime, Record, RecordKind, Slug, Watershed};
use crate::ingest::Faults;
use crate::ingest::csv::readings::{self, Calendar, ReadingRow};
use crate::ingest::csv::{Parsed, records};
use crate::model::record_checks::{Interval, doubts};
use crate::store::{Counts, Db, Tx, place, reading, record, taxon};

pub use crate::ingest::csv::columns::ColumnNames;
pub use crate::ingest::csv::value_map::ValueMap;

/// Readings put into the database at once; bounds the memory of a large import.
const CHUNK: usize = 10_000;

/// A file that can be read twice.
pub trait ReadSeek: Read + Seek + Send {}
impl<T: Read + Seek + Send> ReadSeek for T {}

/// How a file is to be taken.
#[derive(Debug, Clone, Default)]
pub struct ImportOptions {
    /// Do everything but store.
    pub dry_run: bool,
    /// Store the good rows when some are wrong.
    pub best_effort: bool,
    /// Names of columns where the file has others.
    pub columns: ColumnNames,
    /// Codes, letters and labels of the file in our words.
    pub map: ValueMap,
    /// Name of the file, kept with each row.
    pub file: String,
}

impl ImportOptions {
    fn source(&self) -> String {
        format!("file:{}", self.file)
    }
}

/// Reads a table of codes, `column,from,to`.
///
/// # Errors
/// All its faults.
pub fn read_map(file: impl Read + Seek) -> Result<ValueMap, Vec<ImportFault>> {
    ValueMap::read(file).map_err(|faults| wire_faults(&faults))
}

/// Imports water temperatures of `watershed` from `file`.
///
/// Faults of the file are in the document, not in the error; a refused file stores nothing.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Store`].
pub async fn import_readings(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
) -> Result<ImportDocument, AppError> {
    let mut tx = db.read().await?;
    let place = need_watershed(&mut tx, watershed).await?;
    let gauges: Vec<Slug> = place::gauges(&mut tx, watershed).await?.into_iter().map(|gauge| gauge.slug).collect();
    drop(tx);

    let calendar = Calendar { time_zone: place.time_zone, now: clock.now() };
    let (names, map, known) = (options.columns.clone(), options.map.clone(), gauges.clone());
    let mut parsed = blocking(move || readings::parse(file, &known, calendar, &names, &map)).await?;
    let mut document = document("readings", watershed, options, &mut parsed);
    if !document.accepted {
        return Ok(document);
    }
    let mut tx = db.read().await?;
    let stored = import_quality::load(&mut tx, &place, &gauges, &parsed.rows).await?;
    drop(tx);
    let (rows, zone, count) = (parsed.rows, place.time_zone, gauges.len());
    let (verdicts, rows) = blocking(move || (import_quality::judge(stored, count, &rows, zone), rows)).await?;

    let source = options.source();
    let mut counts = Counts::default();
    let mut tx = db.write().await?;
    for chunk in rows.chunks(CHUNK) {
        let made = |(_, row): &(u32, ReadingRow)| verdicts.reading(row, &gauges, &source);
        let chunk: Vec<Reading> = chunk.iter().filter_map(made).collect();
        for reading in chunk.iter().filter(|reading| reading.quality != Quality::Good) {
            note_flagged(&mut document, reading, &place);
        }
        let put = reading::put_readings(&mut tx, watershed, &chunk, clock.now()).await?;
        counts = add(counts, put);
    }
    finish(tx, &mut document, counts).await?;
    Ok(document)
}

/// Imports emergence records of `watershed` from `file`. The taxa are those that live there.
///
/// Faults of the file are in the document, not in the error; a refused file stores nothing.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Store`].
pub async fn import_records(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
) -> Result<ImportDocument, AppError> {
    let mut tx = db.read().await?;
    let place = need_watershed(&mut tx, watershed).await?;
    let reaches: Vec<Slug> = place::reaches(&mut tx, watershed).await?.into_iter().map(|reach| reach.slug).collect();
    let taxa: Vec<Slug> = taxon::residents(&mut tx, watershed).await?.into_iter().map(|taxon| taxon.slug).collect();
    drop(tx);

    let calendar = Calendar { time_zone: place.time_zone, now: clock.now() };
    let (names, map, source) = (options.columns.clone(), options.map.clone(), options.source());
    let mut parsed = blocking(move || records::parse(file, &reaches, &taxa, calendar, &source, &names, &map)).await?;
    let mut document = document("records", watershed, options, &mut parsed);
    if !document.accepted {
        return Ok(document);
    }
    let mut tx = db.read().await?;
    let stored = record::records(&mut tx, watershed, None, None).await?;
    drop(tx);
    let rows: Vec<Record> = parsed.rows.into_iter().map(|(_, record)| record).collect();
    let rows = blocking(move || with_doubts(rows, &stored)).await?;
    for record in rows.iter().filter(|record| !record.doubts.is_empty()) {
        note_doubtful(&mut document, record);
    }
    let mut tx = db.write().await?;
    let counts = record::put_records(&mut tx, watershed, &rows, clock.now()).await?;
    finish(tx, &mut document, counts).await?;
    Ok(document)
}

/// Gives the trap records of a file their doubts, judged with what is stored of the same reaches. A
/// record that is stored already with the same content keeps the exposure it was given then, so
/// that the same file changes nothing when it comes again after others.
fn with_doubts(mut rows: Vec<Record>, stored: &[Record]) -> Vec<Record> {
    let mut visits: BTreeMap<Slug, Vec<Interval>> = BTreeMap::new();
    for record in rows.iter().chain(stored).filter(|record| record.kind == RecordKind::Trap) {
        let interval = Interval::of_trap(record.date_from, record.date_to);
        visits.entry(record.reach.clone()).or_default().push(interval);
    }
    let found: BTreeMap<Slug, _> = visits.into_iter().map(|(reach, visits)| (reach, doubts(&visits))).collect();
    let known: HashMap<String, &Record> = stored.iter().map(|record| (records::key(record), record)).collect();
    for record in &mut rows {
        if let Some(known) = known.get(&records::key(record)).filter(|known| same_content(known, record)) {
            record.exposure_known = known.exposure_known;
            record.doubts.clone_from(&known.doubts);
        } else if record.kind == RecordKind::Trap
            && let Some(doubt) = found
                .get(&record.reach)
                .and_then(|found| found.get(&Interval::of_trap(record.date_from, record.date_to)))
        {
            record.exposure_known &= doubt.exposure_known;
            record.doubts.push(doubt.text.clone());
        }
    }
    rows
}

fn same_content(a: &Record, b: &Record) -> bool {
    let told = |record: &Record| Record {
        known_at: chrono::DateTime::UNIX_EPOCH,
        known_assumed: false,
        source: String::new(),
        doubts: Vec::new(),
        exposure_known: true,
        ..record.clone()
    };
    told(a) == told(b)
}

async fn need_watershed(tx: &mut Tx, slug: &Slug) -> Result<Watershed, AppError> {
    place::find_watershed(tx, slug).await?.ok_or_else(|| AppError::not_found("watershed"))
}

/// Runs `work` where it keeps nobody waiting.
async fn blocking<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, AppError> {
    tokio::task::spawn_blocking(work).await.map_err(|_| AppError::Internal("an import was cut off".to_owned()))
}

/// The document so far. A refused file rejects all its rows.
fn document<T>(kind: &str, watershed: &Slug, options: &ImportOptions, parsed: &mut Parsed<T>) -> ImportDocument {
    let accepted = parsed.faults.is_empty() || (options.best_effort && !parsed.faults.is_fatal());
    if !accepted {
        parsed.rows = Vec::new();
    }
    ImportDocument {
        accepted,
        total: parsed.total,
        unchanged: if accepted { parsed.repeated } else { 0 },
        rejected: if accepted { parsed.rejected } else { parsed.total },
        unknown_columns: std::mem::take(&mut parsed.unknown_columns),
        ..empty(kind, watershed.as_str(), options, &parsed.faults)
    }
}

/// A document that counts nothing.
pub(super) fn empty(kind: &str, watershed: &str, options: &ImportOptions, faults: &Faults) -> ImportDocument {
    ImportDocument {
        kind: kind.to_owned(),
        watershed: watershed.to_owned(),
        file: options.file.clone(),
        accepted: faults.is_empty(),
        dry_run: options.dry_run,
        best_effort: options.best_effort,
        total: 0,
        created: 0,
        updated: 0,
        unchanged: 0,
        rejected: 0,
        fault_count: faults.total(),
        faults: wire_faults(faults),
        flagged_count: 0,
        flagged: Vec::new(),
        doubtful_count: 0,
        doubtful: Vec::new(),
        unknown_columns: Vec::new(),
    }
}

fn wire_faults(faults: &Faults) -> Vec<ImportFault> {
    let wire = |fault: &crate::ingest::Fault| ImportFault {
        line: fault.line,
        column: fault.column.clone(),
        value: fault.value.clone(),
        code: fault.kind.as_str().to_owned(),
        reason: fault.reason.clone(),
    };
    faults.kept().iter().map(wire).collect()
}

fn note_flagged(document: &mut ImportDocument, reading: &Reading, watershed: &Watershed) {
    document.flagged_count += 1;
    if document.flagged.len() >= LISTED {
        return;
    }
    let (at, value_c) = match reading.time {
        ReadingTime::Day { tmean_c, .. } => (None, tmean_c),
        ReadingTime::Instant { at, value_c } => (Some(at), value_c),
    };
    document.flagged.push(FlaggedReading {
        site: reading.gauge.to_string(),
        date: local_date(&reading.time, watershed.time_zone),
        at,
        value_c,
        quality: reading.quality.as_str().to_owned(),
        reason: reading.reasons.join("; "),
    });
}

fn note_doubtful(document: &mut ImportDocument, record: &Record) {
    document.doubtful_count += 1;
    if document.doubtful.len() < LISTED {
        document.doubtful.push(DoubtfulRecord {
            site: record.reach.to_string(),
            date_from: record.date_from,
            date_to: record.date_to,
            taxon: record.taxon.to_string(),
            exposure_known: record.exposure_known,
            reason: record.doubts.join("; "),
        });
    }
}

fn add(a: Counts, b: Counts) -> Counts {
    Counts { created: a.created + b.created, updated: a.updated + b.updated, unchanged: a.unchanged + b.unchanged }
}

/// Counts what was written and keeps it, or undoes it after a trial.
pub(super) async fn finish(tx: Tx, document: &mut ImportDocument, counts: Counts) -> Result<(), AppError> {
    document.created = counts.created;
    document.updated = counts.updated;
    document.unchanged += counts.unchanged;
    if document.dry_run {
        // Dropping the transaction rolls it back.
        drop(tx);
        return Ok(());
    }
    Ok(tx.commit().await?)
}
