//! Imports of readings and records: check the file, judge its rows, store them in one transaction.

use std::io::{Read, Seek};
use std::sync::Arc;

use super::AppError;
use super::document::import::{DoubtfulRecord, FlaggedReading, ImportDocument, ImportFault, LISTED};
use super::import_doubts::Doubting;
use super::import_file::{Chunks, with_file};
use super::import_quality::{self, Verdicts, local_date};
use super::import_series::{Order, Series};
use crate::clock::Clock;
use crate::domain::{Quality, Quantity, Reading, ReadingTime, Record, Rights, Slug, Watershed};
use crate::ingest::csv::Checked;
use crate::ingest::csv::readings::{Calendar, Readings};
use crate::ingest::csv::records::Records;
use crate::ingest::{Fault, Faults};
use crate::store::{Counts, Db, Tx, place, reading, record, record_source, taxon};

pub use super::import_end::By;
pub use super::import_file::ReadSeek;
pub use crate::ingest::csv::columns::ColumnNames;
pub use crate::ingest::csv::value_map::ValueMap;

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
    /// Rows of a file of records that have no id and speak of one record are visits of their own, in the order of
    /// the file. Not to go with `best_effort`: a row that is left out now and mended later would move those after it.
    pub separate_visits: bool,
    /// What readings state.
    pub quantity: Quantity,
    /// Name of the file, kept with each row.
    pub file: String,
    /// On what terms its records may be passed on; of readings the gauge says so.
    pub rights: Rights,
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

/// Imports readings of `watershed` from `file`, all of one quantity.
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
    import_readings_by(db, clock, watershed, file, options, By::SILENT).await
}

/// As [`import_readings`], as somebody's work.
///
/// # Errors
/// As there, and [`AppError::Store`] when a job is no longer held.
pub async fn import_readings_by(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
    by: By<'_>,
) -> Result<ImportDocument, AppError> {
    let mut tx = db.read().await?;
    let place = need_watershed(&mut tx, watershed).await?;
    let gauges: Vec<Slug> = place::gauges(&mut tx, watershed).await?.into_iter().map(|gauge| gauge.slug).collect();
    drop(tx);

    let calendar = Calendar { time_zone: place.time_zone, now: clock.now() };
    let form =
        Arc::new(Readings::new(options.quantity, gauges, calendar, options.columns.clone(), options.map.clone()));
    let (checked, file) = with_file(file, &form, Readings::check).await?;
    let mut document = ImportDocument {
        quantity: Some(options.quantity.as_str().to_owned()),
        ..document("readings", watershed, options, &checked.file)
    };
    if !document.accepted {
        return Ok(document);
    }
    let mut tx = db.read().await?;
    let stored = import_quality::load(&mut tx, &place, &form.gauges, options.quantity, checked.years).await?;
    drop(tx);
    let checked = Arc::new(checked);
    let order = if checked.in_order { Order::OfTime } else { Order::Any };
    let (known, mut series) = (checked.clone(), Series::over(stored, form.gauges.len(), place.time_zone, order));
    let judge = move |form: &Readings, file: &mut Box<dyn ReadSeek>| -> Result<Verdicts, Fault> {
        form.give(file, &known, |row| {
            series.add(&row);
            true
        })?;
        Ok(series.judge())
    };
    let (verdicts, file) = match with_file(file, &form, judge).await? {
        (Ok(verdicts), file) => (verdicts, file),
        (Err(fault), _) => return Ok(refused(document, fault)),
    };

    let source = options.source();
    by.tell(db, clock, (0, document.total), false).await?;
    let mut counts = Counts::default();
    let mut tx = db.write().await?;
    // Readings are made where the file is read, which goes on while they are stored.
    let mut chunks = Chunks::of(file, &form, move |form, file, take| {
        form.give(file, &checked, |row| verdicts.reading(&row, &form.gauges, &source).is_none_or(&mut *take))
    });
    while let Some(chunk) = chunks.next().await {
        for reading in chunk.iter().filter(|reading| reading.quality != Quality::Good) {
            note_flagged(&mut document, reading, &place);
        }
        let put = reading::put_readings(&mut tx, watershed, &chunk, clock.now()).await?;
        counts = add(counts, put);
        by.tell(db, clock, (counts.total(), document.total), true).await?;
    }
    if let Err(fault) = chunks.end().await? {
        return Ok(refused(document, fault));
    }
    by.finish(tx, &mut document, counts, clock).await?;
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
    import_records_by(db, clock, watershed, file, options, By::SILENT).await
}

/// As [`import_records`], as somebody's work.
///
/// # Errors
/// As there, and [`AppError::Store`] when a job is no longer held.
pub async fn import_records_by(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
    by: By<'_>,
) -> Result<ImportDocument, AppError> {
    import_rows(db, clock, watershed, file, options, Before::nothing(by)).await
}

/// What was found of a file before its rows came to be read.
#[derive(Debug)]
pub(super) struct Before<'a> {
    /// Faults of rows that are not among those to be read.
    pub(super) faults: Faults,
    /// How many such rows there are.
    pub(super) rejected: u64,
    /// Whose work it is.
    pub(super) by: By<'a>,
}

impl<'a> Before<'a> {
    /// Nothing was found yet.
    pub(super) fn nothing(by: By<'a>) -> Self {
        Self { faults: Faults::default(), rejected: 0, by }
    }
}

/// As [`import_records`], for a file of which something is known already.
pub(super) async fn import_rows(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
    before: Before<'_>,
) -> Result<ImportDocument, AppError> {
    let mut tx = db.read().await?;
    let place = need_watershed(&mut tx, watershed).await?;
    let reaches: Vec<Slug> = place::reaches(&mut tx, watershed).await?.into_iter().map(|reach| reach.slug).collect();
    let taxa: Vec<Slug> = taxon::residents(&mut tx, watershed).await?.into_iter().map(|taxon| taxon.slug).collect();
    drop(tx);

    let calendar = Calendar { time_zone: place.time_zone, now: clock.now() };
    let (names, map) = (options.columns.clone(), options.map.clone());
    let mut form = Records::new(reaches, taxa, calendar, options.source(), names, map);
    form.separate_visits = options.separate_visits;
    let form = Arc::new(form);
    let (mut checked, file) = with_file(file, &form, Records::check).await?;
    checked.file.total += before.rejected;
    checked.file.rejected += before.rejected;
    checked.file.faults.join(before.faults);
    let mut document = document("records", watershed, options, &checked.file);
    if !document.accepted {
        return Ok(document);
    }
    let mut tx = db.read().await?;
    let stored = record::records(&mut tx, watershed, None, None).await?;
    drop(tx);
    let checked = Arc::new(checked);
    let known = checked.clone();
    let judge = move |form: &Records, file: &mut Box<dyn ReadSeek>| Doubting::new(form, file, &known, stored);
    let (doubting, file) = match with_file(file, &form, judge).await? {
        (Ok(doubting), file) => (doubting, file),
        (Err(fault), _) => return Ok(refused(document, fault)),
    };

    let by = before.by;
    by.tell(db, clock, (0, document.total), false).await?;
    let mut counts = Counts::default();
    let mut tx = db.write().await?;
    let mut chunks = Chunks::of(file, &form, move |form, file, take| form.give(file, &checked, take));
    while let Some(mut chunk) = chunks.next().await {
        for record in &mut chunk {
            doubting.judge(record);
        }
        for record in chunk.iter().filter(|record| !record.doubts.is_empty()) {
            note_doubtful(&mut document, record);
        }
        let put = record::put_records(&mut tx, watershed, &chunk, clock.now()).await?;
        counts = add(counts, put);
        by.tell(db, clock, (counts.total(), document.total), true).await?;
    }
    if let Err(fault) = chunks.end().await? {
        return Ok(refused(document, fault));
    }
    if !options.rights.is_empty() {
        record_source::put_rights(&mut tx, watershed, &options.source(), &options.rights).await?;
    }
    by.finish(tx, &mut document, counts, clock).await?;
    Ok(document)
}

pub(super) async fn need_watershed(tx: &mut Tx, slug: &Slug) -> Result<Watershed, AppError> {
    place::find_watershed(tx, slug).await?.ok_or_else(|| AppError::not_found("watershed"))
}

/// The document so far. A refused file rejects all its rows.
fn document(kind: &str, watershed: &Slug, options: &ImportOptions, checked: &Checked) -> ImportDocument {
    let accepted = checked.faults.is_empty() || (options.best_effort && !checked.faults.is_fatal());
    ImportDocument {
        accepted,
        total: checked.total,
        unchanged: if accepted { checked.repeated } else { 0 },
        rejected: if accepted { checked.rejected } else { checked.total },
        unknown_columns: checked.unknown_columns.clone(),
        ..empty(kind, watershed.as_str(), options, &checked.faults)
    }
}

/// The document of a file that was refused after all, for `fault`.
fn refused(document: ImportDocument, fault: Fault) -> ImportDocument {
    ImportDocument {
        accepted: false,
        unchanged: 0,
        rejected: document.total,
        fault_count: document.fault_count + 1,
        faults: wire_faults(&fault.into()).into_iter().chain(document.faults).collect(),
        flagged_count: 0,
        flagged: Vec::new(),
        doubtful_count: 0,
        doubtful: Vec::new(),
        ..document
    }
}

/// A document that counts nothing.
pub(super) fn empty(kind: &str, watershed: &str, options: &ImportOptions, faults: &Faults) -> ImportDocument {
    ImportDocument {
        kind: kind.to_owned(),
        quantity: None,
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
    let (at, value) = match reading.time {
        ReadingTime::Day { mean, .. } => (None, mean),
        ReadingTime::Instant { at, value } => (Some(at), value),
    };
    document.flagged.push(FlaggedReading {
        site: reading.gauge.to_string(),
        date: local_date(&reading.time, watershed.time_zone),
        at,
        value,
        value_c: reading.quantity.is_temperature().then_some(value),
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
