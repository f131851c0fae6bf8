//! What is known of a taxon and brood before its own records: traits, and fits on other waters.

use crate::domain::season::Cycle;
use crate::domain::{Brood, Taxon};
use crate::model::clock::Drivers;
use crate::model::emergence::TaxonPrior;

use super::neighbours::Neighbours;

/// Sd of the median day that a season window gives, days.
const WINDOW_SD_DAYS: f64 = 20.0;

/// What is known before any record, for a water whose usual year is `climate`.
#[must_use]
pub(super) fn prior(
    neighbours: &Neighbours,
    taxon: &Taxon,
    brood: u8,
    climate: &Drivers,
    has_water: bool,
) -> TaxonPrior {
    let traits = of_traits(taxon, brood);
    neighbours.carried_over(&traits, taxon, brood, climate, has_water).unwrap_or(traits)
}

/// What the traits say before any record.
fn of_traits(taxon: &Taxon, brood: u8) -> TaxonPrior {
    // A base temperature counts only with a source; trade tables' 4 C is a habit, not a measurement.
    let sourced = taxon.provenance.thermal.starts_with("READ");
    let base_temp_c = match taxon.base_temp_c {
        Some(base) if sourced => (base, taxon.base_temp_sd.unwrap_or(0.5)),
        _ => (0.0, 0.0),
    };
    let of_brood = |b: &&Brood| b.number == brood;
    let median_day = taxon
        .broods
        .iter()
        .find(of_brood)
        // Windows and broods speak of one reference region: for another water, never less than this.
        .map(|b| (b.median_day_of_year, b.sd_days.max(WINDOW_SD_DAYS)))
        .or_else(|| taxon.window_middle().map(|day| (day, WINDOW_SD_DAYS)))
        .map(|(day, sd)| (Cycle::of(taxon).day_number(day), sd));
    TaxonPrior {
        base_temp_c,
        median_day,
        width_days: None,
        one_of_several: taxon.broods.len() > 1,
        species: matches!(taxon.rank.as_str(), "species" | "group"),
        hour: taxon.peak_hour.map(|hour| (hour, taxon.peak_hour_sd.unwrap_or(3.0))),
    }
}
