//! What is known of a taxon and brood before its own records: traits, and fits on other waters.

use crate::domain::season::Cycle;
use crate::domain::{Brood, Taxon};
use crate::model::clock::Drivers;
use crate::model::emergence::TaxonPrior;
use crate::model::emergence::window::LEAST_SD_DAYS;

use super::fit::Known;
use super::fit_window::{self, Lie};
use super::neighbours::Neighbours;

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
    neighbours.carried_over(&traits, taxon, brood, climate, has_water).unwrap_or(traits)
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
