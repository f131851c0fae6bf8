//! What was added to the taxa that come with the program after a database was made: usual names, looks,
//! and the waters that a season speaks of. Each is offered once to a database, and only where nothing is said: what a
//! keeper wrote or took away stays so.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, Utc};

use super::AppError;
use super::place_effect::Anew;
use crate::domain::{Looks, Slug, Taxon};
use crate::ingest::seed_taxa::seed_taxa;
use crate::store::meta::{get_meta, set_meta};
use crate::store::{Db, taxon};

/// The key under which a database says what it was offered, with spaces between.
const META_KEY: &str = "offered";
/// Stands for looks among the languages of names.
const LOOKS: &str = "looks";
/// Stands for the waters that a window speaks of.
const REFERENCE: &str = "window-reference";

/// Adds names in languages that were never offered to the database, looks, and the waters of seasons that are as they
/// came, to the taxa that have none. What is computed from them is queued. Returns how many taxa were changed.
///
/// # Errors
/// [`AppError::Store`]; nothing is changed then.
pub async fn add_missing(db: &Db, now: DateTime<Utc>) -> Result<usize, AppError> {
    let seed = seed_taxa().map_err(|error| AppError::Internal(error.to_string()))?;
    let known: BTreeSet<&str> = seed
        .iter()
        .flat_map(|taxon| &taxon.names)
        .map(|name| name.language.as_str())
        .chain([LOOKS, REFERENCE])
        .collect();
    let offered = get_meta(&mut db.read().await?, META_KEY).await?.unwrap_or_default();
    if known.iter().all(|word| offered.split(' ').any(|before| before == *word)) {
        return Ok(0);
    }
    let mut tx = db.write().await?;
    // Another process may have done it since.
    let offered = get_meta(&mut tx, META_KEY).await?.unwrap_or_default();
    let offered: BTreeSet<&str> = offered.split(' ').filter(|word| !word.is_empty()).collect();
    let new: BTreeSet<&str> = known.difference(&offered).copied().collect();
    let seed: BTreeMap<&Slug, &Taxon> = seed.iter().map(|taxon| (&taxon.slug, taxon)).collect();
    let mut changed = 0;
    for stored in taxon::taxa(&mut tx).await? {
        // The same short name can stand for something else.
        let ours = seed.get(&stored.slug).filter(|ours| ours.scientific_name == stored.scientific_name);
        let Some(fuller) = ours.and_then(|ours| fuller(&stored, ours, &new)) else { continue };
        taxon::upsert_taxon(&mut tx, &fuller).await?;
        for home in taxon::homes(&mut tx, &stored.slug).await? {
            Anew::after_taxon(&stored, &fuller).queue(&mut tx, &home, Some(&stored.slug), now).await?;
        }
        changed += 1;
    }
    let all: Vec<&str> = offered.union(&known).copied().collect();
    set_meta(&mut tx, META_KEY, &all.join(" ")).await?;
    tx.commit().await?;
    Ok(changed)
}

/// `stored` with what it lacks of `new`; `None` where it lacks nothing.
fn fuller(stored: &Taxon, ours: &Taxon, new: &BTreeSet<&str>) -> Option<Taxon> {
    let mut fuller = stored.clone();
    let has = |language: &str| stored.names.iter().any(|name| name.language == language);
    // Behind the keeper's own, which stay the usual ones.
    let lacking = ours.names.iter().filter(|name| new.contains(name.language.as_str()) && !has(&name.language));
    fuller.names.extend(lacking.cloned());
    if new.contains(LOOKS) && stored.looks == Looks::default() && stored.provenance.looks.is_empty() {
        fuller.looks.clone_from(&ours.looks);
        fuller.provenance.looks.clone_from(&ours.provenance.looks);
    }
    // What a keeper said of a season speaks of the own water.
    let same_season = (&stored.broods, stored.window) == (&ours.broods, ours.window);
    if new.contains(REFERENCE) && stored.window_reference.is_none() && same_season {
        fuller.window_reference = ours.window_reference;
    }
    (fuller != *stored).then_some(fuller)
}
