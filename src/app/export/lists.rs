//! Public lists as tables: what their JSON says and no more.

use super::tables::{self, Column, cell_of};
use super::unwritten;
use crate::app::AppError;
use crate::app::document::forecast::{DayDocument, ForecastDocument};
use crate::app::document::report::{PublicReport, PublicSighting};
use crate::app::reading::Step;
use crate::domain::{Quantity, Reading};
use crate::ingest::csv::guard::guarded;

type ForecastRow<'a> = (&'a ForecastDocument, &'a DayDocument);
type ReportRow<'a> = (&'a PublicReport, Option<&'a PublicSighting>);

fn forecast<'a>() -> [Column<ForecastRow<'a>>; 19] {
    [
        ("watershed", |(f, _)| guarded(&f.watershed)),
        ("reach", |(f, _)| guarded(&f.reach)),
        ("taxon", |(f, _)| guarded(&f.taxon)),
        ("brood", |(f, _)| f.brood.to_string()),
        ("season", |(f, _)| f.season.to_string()),
        ("date", |(_, d)| d.date.to_string()),
        ("share", |(_, d)| d.share.to_string()),
        ("cumulative", |(_, d)| d.cumulative.to_string()),
        ("none", |(_, d)| d.class_probabilities.none.to_string()),
        ("sparse", |(_, d)| d.class_probabilities.sparse.to_string()),
        ("moderate", |(_, d)| d.class_probabilities.moderate.to_string()),
        ("heavy", |(_, d)| d.class_probabilities.heavy.to_string()),
        ("basis", |(_, d)| d.basis.to_string()),
        ("water_p10_c", |(_, d)| cell_of(d.water_c.map(|water| water.p10))),
        ("water_p50_c", |(_, d)| cell_of(d.water_c.map(|water| water.p50))),
        ("water_p90_c", |(_, d)| cell_of(d.water_c.map(|water| water.p90))),
        ("data_as_of", |(f, _)| f.data_as_of.to_string()),
        ("stale", |(f, _)| f.stale.to_string()),
        ("prior_driven", |(f, _)| f.fit.prior_driven.to_string()),
    ]
}

fn report<'a>() -> [Column<ReportRow<'a>>; 7] {
    [
        ("id", |(r, _)| r.id.to_string()),
        ("watershed", |(r, _)| guarded(&r.watershed)),
        ("reach", |(r, _)| guarded(&r.reach)),
        ("date", |(r, _)| r.date.to_string()),
        ("taxon", |(_, s)| guarded(&cell_of(s.and_then(|s| s.taxon.as_ref())))),
        ("stage", |(_, s)| cell_of(s.map(|s| s.stage))),
        ("abundance_class", |(_, s)| cell_of(s.and_then(|s| s.abundance_class))),
    ]
}

/// A row per day of each forecast.
///
/// # Errors
/// [`AppError::Internal`], as of all lists here.
pub fn forecasts(forecasts: &[ForecastDocument]) -> Result<Vec<u8>, AppError> {
    let rows: Vec<_> = forecasts.iter().flat_map(|f| f.days.iter().map(move |day| (f, day))).collect();
    table(&forecast(), &rows)
}

/// A row per sighting, and one without a sighting for each blank report.
///
/// # Errors
/// As [`forecasts`].
pub fn reports(reports: &[PublicReport]) -> Result<Vec<u8>, AppError> {
    let rows: Vec<_> = reports
        .iter()
        .flat_map(|report| {
            let blank = report.sightings.is_empty().then_some((report, None));
            report.sightings.iter().map(move |sighting| (report, Some(sighting))).chain(blank)
        })
        .collect();
    table(&report(), &rows)
}

/// Readings in the form in which they are imported.
///
/// # Errors
/// As [`forecasts`].
pub fn readings(readings: &[Reading], quantity: Quantity, step: Step) -> Result<Vec<u8>, AppError> {
    match step {
        Step::Day => table(&tables::day(quantity), readings),
        Step::Instant => table(&tables::at_instants(quantity), readings),
    }
}

fn table<T>(columns: &[Column<T>], rows: &[T]) -> Result<Vec<u8>, AppError> {
    let mut bytes = Vec::new();
    tables::write(&mut bytes, columns, rows).map_err(unwritten)?;
    Ok(bytes)
}
