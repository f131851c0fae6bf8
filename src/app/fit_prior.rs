//! What is known of a taxon and brood before its own records: traits, and fits on other waters.

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use crate::domain::season::Cycle;
use crate::domain::{Brood, Reach, Record, Report, Slug, Taxon, Watershed};
use crate::model::clock::Drivers;
use crate::model::emergence::window::LEAST_SD_DAYS;
use crate::model::emergence::{FittedForm, FittedTaxon, TaxonPrior, carried_over};
use crate::store::meta::{get_meta, set_meta};
use crate::store::{Db, StoreError, Tx, fit as fits, place, taxon as taxa};

use super::AppError;
use super::document::fit::FitRequest;
use super::fit::{Known, brood_numbers};
use super::fit_window::{self, Lie};
use super::in_season::spoken_of;
use super::jobs::enqueue_fit;
use super::water_air::km;

/// Own years from which another water's fit is no longer asked.
const YEARS_ALONE: usize = 6;

/// Waters further than this are another climate and other populations, whose heat tells nothing here (common practice, no
/// source), kilometres.
const NEAR_KM: f64 = 600.0;

/// Fits on other waters by taxon and brood, where own records are few.
#[derive(Debug, Clone, Default)]
pub struct Neighbours(BTreeMap<(String, u8), Neighbour>);

#[derive(Debug, Clone)]
struct Neighbour {
    watershed: Slug,
    years: u32,
    fitted: FittedTaxon,
}

impl Neighbours {
    /// In words, what was taken from where.
    #[must_use]
    pub fn told(&self, taxon: &Taxon, brood: u8) -> Option<String> {
        let neighbour = self.0.get(&(taxon.slug.key(), brood))?;
        Some(format!(
            "few records of this water: the heat its emergence needs is taken from {} ({} years there) as a start",
            neighbour.watershed, neighbour.years
        ))
    }
}

/// The fits that help: of a watershed near by, with more years of records than are known here, and (for a
/// hindcast) that saw nothing after `through`. Since help only flows from more years to fewer, no fit
/// ever learns from itself.
///
/// # Errors
/// [`StoreError`] of the database.
pub(super) async fn neighbours(
    tx: &mut Tx,
    watershed: &Watershed,
    taxa: &[Taxon],
    records: &[Record],
    reports: &[Report],
    through: Option<NaiveDate>,
) -> Result<Neighbours, StoreError> {
    let reported: Vec<(NaiveDate, Option<Vec<Slug>>)> =
        reports.iter().map(|r| (r.started_at.with_timezone(&watershed.time_zone).date_naive(), spoken_of(r))).collect();
    let near = near(tx, &watershed.slug).await?;
    let mut found = BTreeMap::new();
    for taxon in taxa {
        let own = records.iter().filter(|r| r.taxon == taxon.slug).map(|r| r.date_to);
        let cycle = Cycle::of(taxon);
        // Only what speaks of the taxon teaches its fit anything.
        let speaks = |spoken: &Option<Vec<Slug>>| spoken.as_ref().is_none_or(|taxa| taxa.contains(&taxon.slug));
        let seen = reported.iter().filter(|(_, spoken)| speaks(spoken)).map(|(date, _)| *date);
        let years: BTreeSet<i32> = own.chain(seen).map(|date| cycle.containing(date).year).collect();
        if years.len() >= YEARS_ALONE {
            continue;
        }
        for brood in brood_numbers(taxon) {
            let more = u32::try_from(years.len()).unwrap_or(u32::MAX).saturating_add(1);
            let Some(fit) = fits::fit_elsewhere(tx, &near, &taxon.slug, brood, more, through).await? else {
                continue;
            };
            // A fit of an older form is as good as none; its own watershed will make it anew.
            let form: Option<FittedForm> = serde_json::from_str(&fit.model_json).ok();
            if let Some(fitted) = form.and_then(FittedForm::into_fitted) {
                found.insert(
                    (taxon.slug.key(), brood),
                    Neighbour { watershed: fit.watershed, years: fit.years, fitted },
                );
            }
        }
    }
    Ok(Neighbours(found))
}

/// The other watersheds with a reach at most [`NEAR_KM`] from one of `watershed`, by slug.
async fn near(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Slug>, StoreError> {
    let own = place::reaches(tx, watershed).await?;
    let mut near = Vec::new();
    for other in place::watersheds(tx).await?.into_iter().filter(|other| other.slug != *watershed) {
        let reaches = place::reaches(tx, &other.slug).await?;
        let at = |reach: &Reach| (reach.latitude, reach.longitude);
        if own.iter().any(|here| reaches.iter().any(|there| km(at(here), at(there)) <= NEAR_KM)) {
            near.push(other.slug);
        }
    }
    Ok(near)
}

/// Queues fits of the taxa of `watershed` that have few years of their own and that another water has learned more of
/// since they were fitted.
///
/// # Errors
/// [`AppError::Store`], for example for an unknown watershed.
pub async fn learn_again(db: &Db, watershed: &Slug, now: DateTime<Utc>) -> Result<Vec<Slug>, AppError> {
    let behind = {
        let mut tx = db.read().await?;
        let near = near(&mut tx, watershed).await?;
        let mut behind = Vec::new();
        for taxon in taxa::residents(&mut tx, watershed).await? {
            for brood in brood_numbers(&taxon) {
                if let Some(helper) = news(&mut tx, watershed, &near, &taxon.slug, brood).await? {
                    behind.push((taxon.slug.clone(), brood, helper));
                }
            }
        }
        behind
    };
    let mut taxa: Vec<Slug> = behind.iter().map(|(taxon, ..)| taxon.clone()).collect();
    taxa.dedup();
    if !behind.is_empty() {
        let mut tx = db.write().await?;
        for taxon in &taxa {
            enqueue_fit(&mut tx, watershed, &FitRequest { taxon: Some(taxon.clone()) }, now).await?;
        }
        for (taxon, brood, helper) in &behind {
            set_meta(&mut tx, &asked_key(watershed, taxon, *brood), &helper.to_string()).await?;
        }
        tx.commit().await?;
    }
    Ok(taxa)
}

/// Where it is noted which fit of another water a taxon and brood was last fitted again for.
fn asked_key(watershed: &Slug, taxon: &Slug, brood: u8) -> String {
    format!("fitted_for/{}/{}/{brood}", watershed.key(), taxon.key())
}

/// The fit that would help, if it was made after the own one and no fit was asked for on its account: what is fitted
/// again may turn out the same, and then keeps the time at which it was first made. Without an own fit one is awaited
/// anyway.
async fn news(
    tx: &mut Tx,
    watershed: &Slug,
    near: &[Slug],
    taxon: &Slug,
    brood: u8,
) -> Result<Option<Uuid>, StoreError> {
    let own = fits::fit_to_publish(tx, watershed, taxon, brood).await?;
    let Some(own) = own.filter(|fit| fit.through.is_none() && (fit.years as usize) < YEARS_ALONE) else {
        return Ok(None);
    };
    let helper = fits::fit_elsewhere(tx, near, taxon, brood, own.years + 1, None).await?;
    let Some(helper) = helper.filter(|helper| helper.created_at > own.created_at) else { return Ok(None) };
    let asked = get_meta(tx, &asked_key(watershed, taxon, brood)).await?;
    Ok(Some(helper.id).filter(|id| asked != Some(id.to_string())))
}

/// What is known before any record, for a water whose usual year is `climate`.
#[must_use]
pub(super) fn prior(
    neighbours: &Neighbours,
    taxon: &Taxon,
    brood: u8,
    climate: &Drivers,
    has_water: bool,
    lie: Option<Lie>,
) -> TaxonPrior {
    let traits = of_traits(taxon, brood, Some(climate).filter(|_| has_water), lie);
    let neighbour = neighbours.0.get(&(taxon.slug.key(), brood));
    neighbour.and_then(|n| carried_over(&traits, &n.fitted, climate, has_water)).unwrap_or(traits)
}

/// In words, what was done to the season that the traits tell; nothing where it stands as it was told, or where
/// another water's fit tells it.
#[must_use]
pub(super) fn told_of_season(
    known: &Known,
    taxon: &Taxon,
    brood: u8,
    climate: &Drivers,
    has_water: bool,
) -> Vec<String> {
    let lie = Lie::of(&known.reaches);
    let with = |neighbours: &Neighbours| prior(neighbours, taxon, brood, climate, has_water, lie).median_day;
    let (Some(lie), Some(usual)) = (lie, usual_season(taxon, brood)) else { return Vec::new() };
    if with(&known.neighbours) != with(&Neighbours::default()) {
        return Vec::new();
    }
    let water = Some(climate).filter(|_| has_water);
    let season = fit_window::season(taxon, brood, usual, base_temp_c(taxon).0, water, lie);
    season.map(|season| fit_window::told(taxon, &season, lie)).unwrap_or_default()
}

/// A base temperature counts only with a source; trade tables' 4 C is a habit, not a measurement.
fn base_temp_c(taxon: &Taxon) -> (f64, f64) {
    let sourced = taxon.provenance.thermal.starts_with("READ");
    match taxon.base_temp_c {
        Some(base) if sourced => (base, taxon.base_temp_sd.unwrap_or(0.5)),
        _ => (0.0, 0.0),
    }
}

/// Middle day of the year and sd of a brood's season, days, as the traits tell it.
fn usual_season(taxon: &Taxon, brood: u8) -> Option<(f64, f64)> {
    let of_brood = |b: &&Brood| b.number == brood;
    let told = taxon.broods.iter().find(of_brood).map(|b| (b.median_day_of_year, b.sd_days));
    // Windows and broods speak of one region: for another water, never less than this.
    told.map(|(day, sd)| (day, sd.max(LEAST_SD_DAYS))).or_else(|| taxon.window_middle().map(|day| (day, LEAST_SD_DAYS)))
}

/// What the traits say before any record.
fn of_traits(taxon: &Taxon, brood: u8, climate: Option<&Drivers>, lie: Option<Lie>) -> TaxonPrior {
    let base_temp_c = base_temp_c(taxon);
    let median_day = usual_season(taxon, brood).map(|usual| {
        let placed = lie.and_then(|lie| fit_window::season(taxon, brood, usual, base_temp_c.0, climate, lie));
        let (day, sd_days) = placed.map_or(usual, |placed| (placed.day, placed.sd_days));
        (Cycle::of(taxon).day_number(day), sd_days)
    });
    TaxonPrior {
        base_temp_c,
        median_day,
        width_days: None,
        one_of_several: taxon.broods.len() > 1,
        species: matches!(taxon.rank.as_str(), "species" | "group"),
        hour: taxon.peak_hour.map(|hour| (hour, taxon.peak_hour_sd.unwrap_or(3.0))),
    }
}
