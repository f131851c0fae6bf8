//! Imports of Darwin Core archives: their occurrences become records and go the way of all records.

use std::io::Cursor;

use tokio::task::spawn_blocking;

use super::AppError;
use super::document::import::ImportDocument;
use super::import::{Before, By, ColumnNames, ImportOptions, ReadSeek, empty, import_rows, need_watershed};
use crate::clock::Clock;
use crate::domain::Slug;
use crate::ingest::Faults;
use crate::ingest::archive::{Known, KnownReach, KnownTaxon, convert};
use crate::store::{Db, place, taxon};

/// What an import of an archive did.
#[derive(Debug, Clone)]
pub struct ArchiveImport {
    /// As of every import; lines are those of the file of occurrences.
    pub document: ImportDocument,
    /// What else is to be known, in words.
    pub notes: Vec<String>,
}

/// Imports the occurrences of an archive as records of `watershed`.
///
/// Faults are in the document, not in the error; a refused archive stores nothing. Names of columns in `options` are
/// not used: an archive describes its columns itself.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Store`].
pub async fn import_archive(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
) -> Result<ArchiveImport, AppError> {
    import_archive_by(db, clock, watershed, file, options, By::SILENT).await
}

/// As [`import_archive`], as somebody's work.
///
/// # Errors
/// As there.
pub async fn import_archive_by(
    db: &Db,
    clock: &dyn Clock,
    watershed: &Slug,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
    by: By<'_>,
) -> Result<ArchiveImport, AppError> {
    let mut tx = db.read().await?;
    let water = need_watershed(&mut tx, watershed).await?;
    let reaches = place::reaches(&mut tx, watershed).await?;
    let residents = taxon::residents(&mut tx, watershed).await?;
    drop(tx);
    let known = Known {
        watershed: water.slug,
        time_zone: water.time_zone,
        reaches: reaches.into_iter().map(|reach| KnownReach { slug: reach.slug, name: reach.name }).collect(),
        taxa: residents
            .into_iter()
            .map(|t| KnownTaxon { slug: t.slug, scientific_name: t.scientific_name, order: t.order })
            .collect(),
    };
    let map = options.map.clone();
    let converted = spawn_blocking(move || convert(file, &known, &map)).await;
    let converted = match converted.map_err(|_| AppError::Internal("an import was cut off".to_owned()))? {
        Ok(converted) => converted,
        Err(fault) => {
            let document = empty("records", watershed.as_str(), options, &Faults::from(fault));
            return Ok(ArchiveImport { document, notes: Vec::new() });
        }
    };
    let columns = ColumnNames::new(converted.columns.iter().copied());
    let columns = columns.map_err(|invalid| AppError::Internal(invalid.to_string()))?;
    let named = ImportOptions { columns, ..options.clone() };
    let before = Before { faults: converted.faults, rejected: converted.rejected, by };
    let rows: Box<dyn ReadSeek> = Box::new(Cursor::new(converted.csv));
    let mut document = import_rows(db, clock, watershed, rows, &named, before).await?;
    document.faults.iter_mut().for_each(|fault| fault.line = fault.line.saturating_sub(converted.shift).max(1));
    document.unknown_columns = converted.ignored;
    let mut notes = vec![format!("lines are those of {} in the archive", converted.occurrences)];
    if document.faults.is_empty() {
        notes.clear();
    }
    if converted.events_without_occurrence > 0 {
        let count = converted.events_without_occurrence;
        notes.push(format!("{count} events name no taxon, found or not, and say nothing here"));
    }
    Ok(ArchiveImport { document, notes })
}
