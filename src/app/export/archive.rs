//! The public part of a watershed's records as a Darwin Core archive.

use std::collections::{BTreeMap, HashMap};
use std::io::{self, Seek, Write};

use chrono::NaiveDate;
use uuid::Uuid;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::columns::{EventRow, FACT, OccurrenceRow, event, facts_of, occurrence};
use super::describe::{File, eml, meta};
use super::samples::{Sample, samples};
use super::tables::{self, Column};
use super::{need_watershed, unwritten};
use crate::app::AppError;
use crate::clock::Clock;
use crate::domain::{Reach, Record, Rights, Slug, Taxon, Watershed};
use crate::ingest::archive::{DESCRIPTION, terms};
use crate::store::{Db, place, record, record_source, report, taxon};

/// Rows made and written at once.
const CHUNK: usize = 1000;

/// The words for what was found and what was not.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Vocabulary {
    /// `present` and `absent`, which aggregators read.
    Gbif,
    /// `detected` and `notDetected`, the vocabulary of 2026.
    Tdwg,
}

impl Vocabulary {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 2] = [(Self::Gbif, "gbif"), (Self::Tdwg, "tdwg")];

    /// The `occurrenceStatus`.
    pub(super) fn status(self, blank: bool) -> &'static str {
        match (self, blank) {
            (Self::Gbif, false) => "present",
            (Self::Gbif, true) => "absent",
            (Self::Tdwg, false) => "detected",
            (Self::Tdwg, true) => "notDetected",
        }
    }
}

/// How an archive is wanted.
#[derive(Debug, Clone)]
pub struct ArchiveWish {
    /// The words of `occurrenceStatus`.
    pub vocabulary: Vocabulary,
    /// Address of the licence.
    pub license: String,
    /// Who holds the rights.
    pub rights_holder: String,
    /// Name of the dataset; made from the watershed's when `None`.
    pub dataset_name: Option<String>,
}

/// What an archive holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Packed {
    /// Events.
    pub events: u64,
    /// Occurrences, those of nothing found included.
    pub occurrences: u64,
    /// Sightings without a name, which are left out.
    pub without_name: u64,
    /// First and last day.
    pub days: Option<(NaiveDate, NaiveDate)>,
}

/// What all rows have in common.
pub(super) struct Dataset {
    pub(super) id: Uuid,
    pub(super) watershed: Watershed,
    pub(super) vocabulary: Vocabulary,
    pub(super) license: String,
    pub(super) rights_holder: String,
    pub(super) name: String,
    /// On what terms records may be passed on, by their source; in order.
    pub(super) rights: BTreeMap<String, Rights>,
}

impl Dataset {
    /// The terms of a record, where somebody said what they are.
    pub(super) fn rights_of(&self, record: &Record) -> Option<&Rights> {
        self.rights.get(&record.source)
    }
}

/// Packs what everyone may know of `watershed` into `out`: its records and accepted reports, on the centres of grid
/// cells. The same data make the same bytes on the same day.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Store`], [`AppError::Internal`] when `out` fails.
pub async fn archive(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    wish: &ArchiveWish,
    out: impl Write + Seek,
) -> Result<Packed, AppError> {
    let mut tx = db.read().await?;
    let water = need_watershed(&mut tx, watershed).await?;
    let reaches: HashMap<Slug, Reach> =
        place::reaches(&mut tx, watershed).await?.into_iter().map(|reach| (reach.slug.clone(), reach)).collect();
    let taxa: HashMap<Slug, Taxon> =
        taxon::taxa(&mut tx).await?.into_iter().map(|taxon| (taxon.slug.clone(), taxon)).collect();
    let residents: Vec<Slug> = taxon::residents(&mut tx, watershed).await?.into_iter().map(|t| t.slug).collect();
    let records = record::records(&mut tx, watershed, None, None).await?;
    let reports = report::accepted_reports(&mut tx, watershed, None).await?;
    let rights = record_source::rights(&mut tx, watershed).await?.into_iter().collect();
    drop(tx);
    let zone = water.time_zone;
    let (samples, without_name) = samples(watershed, zone, &residents, records, &reports);
    let days = samples.first().zip(samples.last()).map(|(first, last)| (first.like.date_to, last.like.date_to));
    let packed = Packed {
        events: samples.len() as u64,
        occurrences: samples.iter().map(|sample| sample.found.len() as u64).sum(),
        without_name,
        days,
    };
    let dataset = Dataset {
        id: Uuid::new_v5(&Uuid::NAMESPACE_DNS, format!("dataset.subimago.invalid/{}", watershed.key()).as_bytes()),
        name: wish.dataset_name.clone().unwrap_or_else(|| format!("Emerging insects of {}", water.name)),
        watershed: water,
        vocabulary: wish.vocabulary,
        license: wish.license.clone(),
        rights_holder: wish.rights_holder.clone(),
        rights,
    };
    let published = clock.now().with_timezone(&zone).date_naive();
    pack(&dataset, &samples, (&reaches, &taxa), &packed, published, out).map_err(unwritten)?;
    Ok(packed)
}

fn pack(
    dataset: &Dataset,
    samples: &[Sample],
    (reaches, taxa): (&HashMap<Slug, Reach>, &HashMap<Slug, Taxon>),
    packed: &Packed,
    published: NaiveDate,
    out: impl Write + Seek,
) -> io::Result<()> {
    let mut zip = ZipWriter::new(out);
    let mut files = Vec::new();
    // Every sample's reach and every record's taxon is stored: the database holds them together.
    let events = |sample| Some(EventRow { sample, reach: reaches.get(&sample.like.reach)?, dataset });
    files.push(table(&mut zip, "event.csv", terms::EVENT, &event(), samples.iter().filter_map(events))?);
    let occurrences = samples.iter().flat_map(|sample| sample.found.iter().map(move |found| (sample, found)));
    let occurrences = occurrences.filter_map(|(sample, found)| {
        Some(OccurrenceRow { sample, found, taxon: taxa.get(&found.record.taxon)?, dataset })
    });
    files.push(table(&mut zip, "occurrence.csv", terms::OCCURRENCE, &occurrence(), occurrences)?);
    let facts = samples.iter().flat_map(facts_of);
    files.push(table(&mut zip, "measurementorfact.csv", terms::MEASUREMENT, &FACT, facts)?);
    zip.start_file(DESCRIPTION, as_packed())?;
    zip.write_all(meta(&files).as_bytes())?;
    zip.start_file("eml.xml", as_packed())?;
    zip.write_all(eml(dataset, packed, published).as_bytes())?;
    zip.finish()?.flush()
}

/// Without the hour of packing: the same data make the same bytes.
fn as_packed() -> SimpleFileOptions {
    SimpleFileOptions::default().compression_method(CompressionMethod::Deflated).unix_permissions(0o644)
}

fn table<W: Write + Seek, T>(
    zip: &mut ZipWriter<W>,
    name: &'static str,
    row_type: &'static str,
    columns: &[Column<T>],
    rows: impl Iterator<Item = T>,
) -> io::Result<File> {
    zip.start_file(name, as_packed())?;
    let wrong = |error: csv::Error| io::Error::other(error);
    tables::write(&mut *zip, columns, &[]).map_err(wrong)?;
    let mut chunk: Vec<T> = Vec::with_capacity(CHUNK);
    for row in rows {
        chunk.push(row);
        if chunk.len() == CHUNK {
            tables::append(&mut *zip, columns, &chunk).map_err(wrong)?;
            chunk.clear();
        }
    }
    tables::append(&mut *zip, columns, &chunk).map_err(wrong)?;
    Ok(File { name, row_type, terms: columns.iter().map(|(term, _)| *term).collect() })
}
