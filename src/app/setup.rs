//! Declares or updates a watershed with its reaches, gauges and taxa from a setup file.

use std::collections::BTreeMap;
use std::io::Read;

use super::AppError;
use super::document::import::ImportDocument;
use super::import::{ImportOptions, empty};
use super::import_end::finish;
use crate::domain::{Slug, Taxon};
use crate::ingest::Faults;
use crate::ingest::seed_taxa::seed_taxa;
use crate::ingest::setup::{Setup, parse, read_text, watershed_slug};
use crate::store::{Counts, Db, Tx, Upsert, place, taxon};

/// Imports the setup in `file`. What the file does not name stays as it is; of a taxon that is known,
/// or that comes with the program, traits that the file does not give stay too.
///
/// A setup is taken whole or not at all; with best effort its good tables are taken, if that of the
/// watershed is one. Faults are in the document, not in the error.
///
/// # Errors
/// [`AppError::Store`].
pub async fn import_setup(db: &Db, file: impl Read, options: &ImportOptions) -> Result<ImportDocument, AppError> {
    let refused = |watershed: &str, faults: &Faults| empty("setup", watershed, options, faults);
    let text = match read_text(file) {
        Ok(text) => text,
        Err(fault) => return Ok(refused("", &Faults::from(fault))),
    };
    let slug = watershed_slug(&text);
    let mut tx = db.write().await?;
    let gauges = known_gauges(&mut tx, slug.as_ref()).await?;
    let taxa = known_taxa(&mut tx).await?;
    let setup = match parse(&text, &gauges, &taxa, options.best_effort) {
        Ok(setup) => setup,
        Err(faults) => return Ok(refused(slug.as_ref().map_or("", Slug::as_str), &faults)),
    };
    let counts = put(&mut tx, &setup).await?;
    let mut document = ImportDocument {
        accepted: true,
        total: counts.total() + setup.left_out,
        rejected: setup.left_out,
        unknown_columns: setup.unknown_keys,
        ..refused(setup.watershed.slug.as_str(), &setup.faults)
    };
    if counts.created + counts.updated > 0 {
        place::tell_changed(&mut tx).await?;
    }
    finish(tx, &mut document, counts).await?;
    Ok(document)
}

async fn known_gauges(tx: &mut Tx, watershed: Option<&Slug>) -> Result<Vec<Slug>, AppError> {
    let Some(watershed) = watershed else { return Ok(Vec::new()) };
    if place::find_watershed(tx, watershed).await?.is_none() {
        return Ok(Vec::new());
    }
    Ok(place::gauges(tx, watershed).await?.into_iter().map(|gauge| gauge.slug).collect())
}

/// The taxa that come with the program, and over them those that are stored.
async fn known_taxa(tx: &mut Tx) -> Result<BTreeMap<Slug, Taxon>, AppError> {
    let seed = seed_taxa().map_err(|error| AppError::Internal(error.to_string()))?;
    let stored = taxon::taxa(tx).await?;
    Ok(seed.into_iter().chain(stored).map(|taxon| (taxon.slug.clone(), taxon)).collect())
}

async fn put(tx: &mut Tx, setup: &Setup) -> Result<Counts, AppError> {
    let slug = &setup.watershed.slug;
    let mut counts = Counts::default();
    let mut watershed = setup.watershed.clone();
    if !setup.says_units {
        watershed.units = place::find_watershed(tx, slug).await?.map_or(watershed.units, |stored| stored.units);
    }
    counts.add(place::upsert_watershed(tx, &watershed).await?);
    // Reaches name gauges, so the gauges go first.
    for gauge in &setup.gauges {
        counts.add(place::upsert_gauge(tx, slug, gauge).await?);
    }
    for reach in &setup.reaches {
        counts.add(place::upsert_reach(tx, slug, reach).await?);
    }
    for taxon in &setup.taxa {
        let traits = taxon::upsert_taxon(tx, taxon).await?;
        let resident = taxon::set_resident(tx, slug, &taxon.slug, true).await?;
        // A known taxon that is new to this water is a change too.
        let changed = traits == Upsert::Unchanged && resident != Upsert::Unchanged;
        counts.add(if changed { Upsert::Updated } else { traits });
    }
    Ok(counts)
}
