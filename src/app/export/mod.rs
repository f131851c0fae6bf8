//! Exports: records and readings in the forms in which they are imported, reports as records, and the public part as
//! a Darwin Core archive.

mod archive;
mod columns;
mod describe;
pub mod lists;
pub mod reports;
pub(super) mod samples;
mod tables;

use std::io::Write;

use super::AppError;
use crate::domain::{Gauge, Quantity, Slug, Watershed};
use crate::store::reading::{daily_readings_of, instant_readings_of};
use crate::store::{Db, Span, Tx, place, record, record_source, report, taxon};

pub use archive::{ArchiveWish, Packed, Vocabulary, archive};
pub use tables::cell_of;

/// Which readings to export.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Readings {
    /// Those by local day.
    Days,
    /// Those at instants.
    Instants,
}

fn unwritten(error: impl std::fmt::Display) -> AppError {
    AppError::Internal(format!("an export could not be written: {error}"))
}

async fn need_watershed(tx: &mut Tx, slug: &Slug) -> Result<Watershed, AppError> {
    place::find_watershed(tx, slug).await?.ok_or_else(|| AppError::not_found("watershed"))
}

/// Writes the records of `watershed`, of each the latest version; the number written. Imported again, the file
/// changes nothing. Where licences or citations were given, they stand in two columns at the end.
///
/// # Errors
/// [`AppError::NotFound`] for the watershed, [`AppError::Store`], [`AppError::Internal`] when `out` fails.
pub async fn records(db: &Db, watershed: &Slug, out: impl Write) -> Result<u64, AppError> {
    let mut tx = db.read().await?;
    need_watershed(&mut tx, watershed).await?;
    let records = record::records(&mut tx, watershed, None, None).await?;
    let rights = record_source::rights(&mut tx, watershed).await?;
    drop(tx);
    if rights.is_empty() {
        return tables::write(out, &tables::RECORD, &records).map_err(unwritten);
    }
    let cited = records.iter().map(|record| (record, rights.get(&record.source)));
    tables::write_cited(out, &tables::RECORD, cited).map_err(unwritten)
}

/// Writes the accepted reports of `watershed` as visits in the form of records, a row for each taxon looked for and
/// each stage seen, with hours, people and counts; without sender, notes and insects that have no name. For use
/// elsewhere: the watershed they come from has them already.
///
/// # Errors
/// As [`records`].
pub async fn reports(db: &Db, watershed: &Slug, out: impl Write) -> Result<u64, AppError> {
    let mut tx = db.read().await?;
    let zone = need_watershed(&mut tx, watershed).await?.time_zone;
    let residents: Vec<Slug> = taxon::residents(&mut tx, watershed).await?.into_iter().map(|t| t.slug).collect();
    let reports = report::accepted_reports(&mut tx, watershed, None).await?;
    drop(tx);
    let rows: Vec<_> = reports.iter().flat_map(|report| reports::whole(report, zone, &residents)).collect();
    tables::write(out, &tables::RECORD, &rows).map_err(unwritten)
}

/// Licences and citations of gauges stand in two columns at the end, where there are any.
///
/// Writes the readings of `quantity` of the gauges of `watershed`, or of one of them, of each the latest version; the number
/// written. Imported again, the file changes nothing.
///
/// # Errors
/// As [`records`], and [`AppError::NotFound`] for the gauge.
pub async fn readings(
    db: &Db,
    watershed: &Slug,
    gauge: Option<&Slug>,
    quantity: Quantity,
    which: Readings,
    mut out: impl Write,
) -> Result<u64, AppError> {
    let mut tx = db.read().await?;
    need_watershed(&mut tx, watershed).await?;
    let mut gauges = place::gauges(&mut tx, watershed).await?;
    if let Some(gauge) = gauge {
        gauges.retain(|known| known.slug == *gauge);
        if gauges.is_empty() {
            return Err(AppError::not_found("gauge"));
        }
    }
    let columns = match which {
        Readings::Days => tables::day(quantity).to_vec(),
        Readings::Instants => tables::at_instants(quantity).to_vec(),
    };
    // Gauge by gauge: one series bounds the memory.
    let cited = gauges.iter().any(|gauge| !gauge.rights.is_empty());
    let mut written = if cited {
        tables::write_cited(&mut out, &columns, []).map_err(unwritten)?
    } else {
        tables::write(&mut out, &columns, &[]).map_err(unwritten)?
    };
    for Gauge { slug: gauge, rights, .. } in &gauges {
        let found = match which {
            Readings::Days => daily_readings_of(&mut tx, watershed, gauge, quantity, None, Span::all()).await?,
            Readings::Instants => instant_readings_of(&mut tx, watershed, gauge, quantity, None, Span::all()).await?,
        };
        written += if cited {
            let found = found.iter().map(|reading| (reading, Some(rights)));
            tables::append_cited(&mut out, &columns, found).map_err(unwritten)?
        } else {
            tables::append(&mut out, &columns, &found).map_err(unwritten)?
        };
    }
    Ok(written)
}
