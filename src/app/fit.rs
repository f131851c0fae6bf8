//! Fits every taxon and brood of a watershed and stores the fits.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use chrono::{Datelike, NaiveDate};
use thiserror::Error;
use uuid::Uuid;

use crate::clock::Clock;
use crate::domain::civil::end_of_day;
use crate::domain::season::Cycle;
use crate::domain::{Fit, Reach, Record, Report, Slug, Taxon, Watershed};
use crate::model::clock::Drivers;
use crate::model::emergence::{FitInput, FittedForm, FittedTaxon, fit_taxon};
use crate::model::likelihood::time_of_day::Midnight;
use crate::model::posterior::{Dataset, Observation, Unit};
use crate::store::{Db, StoreError, fit as fits, place, record, report};

use super::fit_prior;
use super::fit_window::{self, Lie};
use super::flights;
use super::neighbours::{self, Neighbours};
use super::observations::{Placed, brood_window, place as place_records};
use super::threads;
use super::water::{self, Water};

/// Namespace of fit identifiers: the same data give the same identifier.
const FIT_NAMESPACE: Uuid = Uuid::from_u128(0x2f4b_63c1_7a9e_5d08_8c14_b1e0_62d7_935a);

/// Which fits are asked for.
#[derive(Debug, Clone)]
pub struct FitRequest {
    /// The watershed.
    pub watershed: Slug,
    /// One taxon; all residents when `None`.
    pub taxon: Option<Slug>,
    /// Use only what was true and known up to the end of this local day.
    pub through: Option<NaiveDate>,
}

/// How one taxon and brood ended.
#[derive(Debug, Clone, PartialEq)]
pub struct TaxonOutcome {
    /// The taxon.
    pub taxon: Slug,
    /// The brood.
    pub brood: u8,
    /// The stored fit; `None` when no clock could carry the data.
    pub fit: Option<Fit>,
}

/// Why a watershed could not be fitted.
#[derive(Debug, Error)]
pub enum FitError {
    /// No such watershed.
    #[error("there is no watershed {0}")]
    NoWatershed(Slug),
    /// No such taxon in the watershed.
    #[error("taxon {0} does not live in this watershed")]
    NoTaxon(Slug),
    /// The database failed.
    #[error("the database failed")]
    Store(#[from] StoreError),
    /// The computation was cut off.
    #[error("the computation was cut off")]
    CutOff,
    /// A fitted model could not be written as text.
    #[error("a fitted model could not be stored")]
    Text(#[from] serde_json::Error),
}

/// Everything of a watershed that fits and forecasts read.
#[derive(Debug, Clone)]
pub struct Known {
    /// The watershed.
    pub watershed: Watershed,
    /// Its reaches in order of slug.
    pub reaches: Vec<Reach>,
    /// Resident taxa.
    pub taxa: Vec<Taxon>,
    /// Records.
    pub records: Vec<Record>,
    /// Accepted reports.
    pub reports: Vec<Report>,
    /// Water.
    pub water: Water,
    /// Fits on other waters that help where records are few.
    pub neighbours: Neighbours,
}

/// Loads what is known of a watershed by the end of `through` (everything when `None`).
///
/// # Errors
/// [`FitError::NoWatershed`] or a failing database.
pub async fn load(db: &Db, slug: &Slug, through: Option<NaiveDate>) -> Result<Known, FitError> {
    let mut tx = db.read().await?;
    let watershed = place::find_watershed(&mut tx, slug).await?.ok_or_else(|| FitError::NoWatershed(slug.clone()))?;
    let mut reaches = place::reaches(&mut tx, slug).await?;
    reaches.sort_by(|a, b| a.slug.cmp(&b.slug));
    let taxa = fit_window::residents(&mut tx, slug).await?;
    let known_by = through.map(|date| end_of_day(watershed.time_zone, date));
    let mut records = record::records(&mut tx, slug, None, known_by).await?;
    let mut reports = report::accepted_reports(&mut tx, slug, known_by).await?;
    if let Some(date) = through {
        records.retain(|r| r.date_to <= date);
        let end = end_of_day(watershed.time_zone, date);
        reports.retain(|r| r.started_at <= end);
    }
    let measured = water::read(&mut tx, &watershed, known_by, through).await?;
    let neighbours = neighbours::neighbours(&mut tx, &watershed, &taxa, &records, &reports, through).await?;
    drop(tx);
    let places = reaches.clone();
    let water = threads::at_once(move || measured.complete(&places)).await.map_err(|_| FitError::CutOff)?;
    Ok(Known { watershed, reaches, taxa, records, reports, water, neighbours })
}

/// Fits and stores; calls `progress` as each taxon and brood ends.
///
/// # Errors
/// [`FitError`]; fits stored before the error stay.
pub async fn fit_watershed(
    db: &Db,
    clock: &dyn Clock,
    request: &FitRequest,
    progress: &(dyn Fn(&TaxonOutcome) + Sync),
) -> Result<Vec<TaxonOutcome>, FitError> {
    let known = Arc::new(load(db, &request.watershed, request.through).await?);
    if let Some(slug) = &request.taxon
        && !known.taxa.iter().any(|t| t.slug == *slug)
    {
        return Err(FitError::NoTaxon(slug.clone()));
    }
    let mut outcomes = Vec::new();
    for taxon in known.taxa.iter().filter(|t| request.taxon.as_ref().is_none_or(|slug| *slug == t.slug)) {
        for brood in brood_numbers(taxon) {
            let (shared, subject) = (known.clone(), taxon.clone());
            let fitted = threads::in_time(move || {
                let input = input(&shared, &subject, brood);
                fit_taxon(&input).map(|fitted| {
                    let told = told(&shared, &subject, brood, &input, &fitted);
                    (fitted, told)
                })
            });
            let fit = match fitted.await.map_err(|_| FitError::CutOff)? {
                Some((fitted, told)) => Some(store(db, clock, request, taxon, brood, &fitted, told).await?),
                None => None,
            };
            let outcome = TaxonOutcome { taxon: taxon.slug.clone(), brood, fit };
            progress(&outcome);
            outcomes.push(outcome);
        }
    }
    Ok(outcomes)
}

/// In words, what `fitted` rests on besides the records.
fn told(known: &Known, taxon: &Taxon, brood: u8, input: &FitInput, fitted: &FittedTaxon) -> Vec<String> {
    let (climate, has_water) = (&input.data.climate, input.has_water);
    // Nothing of another water whose fit is of no use here.
    let lie = Lie::of(&known.reaches);
    let alone = fit_prior::prior(&Neighbours::default(), taxon, brood, climate, has_water, lie);
    let helped = known.neighbours.told(taxon, brood).filter(|_| input.prior != alone);
    let season = || fit_prior::told_of_season(known, taxon, brood, climate, has_water);
    // Where records tell the season, nothing is to be said of what was known before.
    helped.into_iter().chain(fitted.prior_driven.then(season).into_iter().flatten()).collect()
}

/// The broods of a taxon, at least one.
#[must_use]
pub fn brood_numbers(taxon: &Taxon) -> Vec<u8> {
    if taxon.broods.is_empty() { vec![1] } else { taxon.broods.iter().map(|b| b.number).collect() }
}

async fn store(
    db: &Db,
    clock: &dyn Clock,
    request: &FitRequest,
    taxon: &Taxon,
    brood: u8,
    fitted: &FittedTaxon,
    told: Vec<String>,
) -> Result<Fit, FitError> {
    let model_json = serde_json::to_string(&FittedForm::from(fitted))?;
    let name = format!("{}/{}/{brood}/{:?}/{model_json}", request.watershed.key(), taxon.slug.key(), request.through);
    let mut fit = Fit {
        id: Uuid::new_v5(&FIT_NAMESPACE, name.as_bytes()),
        watershed: request.watershed.clone(),
        taxon: taxon.slug.clone(),
        brood,
        created_at: clock.now(),
        through: request.through,
        records: fitted.records as u32,
        years: fitted.years_used as u32,
        prior_driven: fitted.prior_driven,
        weights: fitted.weights,
        beats_calendar: fitted.beats_calendar,
        widening: Some(fitted.widening),
        warnings: told.into_iter().chain(fitted.warnings.iter().cloned()).collect(),
        model_json,
    };
    let mut tx = db.write().await?;
    if let Some(latest) = fits::latest_fit(&mut tx, &fit.watershed, &fit.taxon, brood).await?
        && latest.id == fit.id
    {
        return Ok(latest);
    }
    if fits::find_fit(&mut tx, fit.id).await?.is_some() {
        // The data went back to what an older fit saw: same content, later in time.
        fit.id = Uuid::new_v5(&fit.id, fit.created_at.to_rfc3339().as_bytes());
    }
    fits::insert_fit(&mut tx, &fit).await?;
    tx.commit().await?;
    Ok(fit)
}

/// The model's input for one taxon and brood.
#[must_use]
pub fn input(known: &Known, taxon: &Taxon, brood: u8) -> FitInput {
    let cycle = Cycle::of_brood(taxon, brood);
    let placed = place_records(&known.watershed, &known.reaches, taxon, brood, &known.records, &known.reports);
    let years: Vec<i32> = placed.iter().map(|p| p.year).collect::<BTreeSet<_>>().into_iter().collect();
    let mut groups: BTreeMap<(usize, usize), Vec<Placed>> = BTreeMap::new();
    for one in placed {
        let site = known.reaches.iter().position(|r| r.slug == one.reach);
        let year = years.iter().position(|y| *y == one.year);
        if let (Some(site), Some(year)) = (site, year) {
            groups.entry((site, year)).or_default().push(one);
        }
    }
    let mut hours_known = taxon.peak_hour.is_some();
    let units: Vec<Unit> = groups
        .into_iter()
        .map(|((site, year), list)| {
            let drivers = known.water.central(&known.reaches[site], cycle.season(years[year]));
            let observations: Vec<Observation> =
                list.into_iter().map(|one| with_water(one.observation, &drivers)).collect();
            hours_known |= observations.iter().any(|o| o.hours.is_some());
            Unit { site, year, drivers: Arc::new(drivers), observations }
        })
        .collect();
    let climate = if units.is_empty() {
        usual_climate(known, cycle)
    } else {
        Drivers::mean_of(units.iter().map(|u| u.drivers.as_ref()))
    };
    let data = Dataset {
        sites: known.reaches.len(),
        years: years.len(),
        units,
        climate,
        midnight: Midnight::Wraps,
        window: brood_window(taxon, brood),
    };
    let has_water = !known.water.reaches.is_empty();
    FitInput {
        sites: known.reaches.iter().map(|reach| reach.slug.key()).collect(),
        prior: fit_prior::prior(&known.neighbours, taxon, brood, &data.climate, has_water, Lie::of(&known.reaches)),
        data,
        years,
        has_water,
        hours_known,
        flights: flights::flights(known, taxon, brood),
        cycle,
    }
}

/// `observation` with the water of its day.
fn with_water(mut observation: Observation, drivers: &Drivers) -> Observation {
    if let Some(hours) = &mut observation.hours {
        let day = observation.to_day.clamp(1, drivers.len()) - 1;
        hours.water_c = 0.5 * (drivers.tmin_c[day] + drivers.tmax_c[day]);
    }
    observation
}

/// The records of one season of a taxon and brood, by index of the reach, as a fit would see them;
/// `drivers` is that season's water by reach.
#[must_use]
pub fn season_records(
    known: &Known,
    taxon: &Taxon,
    brood: u8,
    year: i32,
    drivers: &[Arc<Drivers>],
) -> Vec<(usize, Observation)> {
    place_records(&known.watershed, &known.reaches, taxon, brood, &known.records, &known.reports)
        .into_iter()
        .filter(|placed| placed.year == year)
        .filter_map(|placed| {
            let site = known.reaches.iter().position(|r| r.slug == placed.reach)?;
            Some((site, with_water(placed.observation, &drivers[site])))
        })
        .collect()
}

/// The mean of the reaches' usual years, for a taxon without records.
fn usual_climate(known: &Known, cycle: Cycle) -> Drivers {
    // Any year of 365 days: only the day of the year matters.
    let season = cycle.season(known.water.newest.map_or(2001, |d| d.year()));
    let usual: Vec<Drivers> = known.reaches.iter().filter_map(|r| known.water.usual(r, season)).collect();
    if usual.is_empty() {
        let still: Vec<Drivers> = known.reaches.iter().map(|r| known.water.central(r, season)).collect();
        return Drivers::mean_of(&still);
    }
    Drivers::mean_of(&usual)
}
