//! The trait table that comes with the program: taxa with the traits that serve as priors.

use std::collections::BTreeMap;

use serde::Deserialize;
use thiserror::Error;

use crate::domain::taxon::{EmergenceMode, MonthDay, Provenance};
use crate::domain::{Brood, Invalid, Slug, Taxon};

const TRAITS: &str = include_str!("../seed/taxa_traits.csv");
const BROODS: &str = include_str!("../seed/taxa_broods.csv");

/// A fault in the table, which would be a fault of the program.
#[derive(Debug, Error)]
pub enum TraitTableError {
    /// A row that is not as the header says.
    #[error("the trait table has a row that cannot be read")]
    Row(#[from] csv::Error),
    /// A value that breaks a rule.
    #[error("the trait table has a wrong value")]
    Value(#[from] Invalid),
}

#[derive(Debug, Deserialize)]
struct TraitRow {
    slug: String,
    taxon: String,
    rank: String,
    order: Option<String>,
    region: Option<String>,
    base_temp_c: Option<f64>,
    base_temp_sd: Option<f64>,
    window_early: Option<String>,
    window_late: Option<String>,
    peak_hour_local_solar: Option<f64>,
    peak_hour_sd: Option<f64>,
    spinner_time: Option<String>,
    emergence_mode: Option<String>,
    oviposition_mode: Option<String>,
    nymph_habit: Option<String>,
    voltinism: Option<String>,
    body_mm_min: Option<f64>,
    body_mm_max: Option<f64>,
    hook_size_large: Option<u8>,
    hook_size_small: Option<u8>,
    water_type: Option<String>,
    water_temp_emergence_c_low: Option<f64>,
    water_temp_emergence_c_high: Option<f64>,
    provenance_thermal: String,
    provenance_window: String,
    provenance_behaviour: String,
    provenance_size: String,
    note: Option<String>,
}

#[derive(Debug, Deserialize)]
struct BroodRow {
    slug: String,
    brood: u8,
    median_day_of_year: f64,
    sd_days: f64,
    provenance: String,
}

/// All taxa of the table, in its order.
///
/// # Errors
/// [`TraitTableError`]; a test holds that the table that comes with the program has none.
pub fn taxa() -> Result<Vec<Taxon>, TraitTableError> {
    parse(TRAITS, BROODS)
}

fn parse(traits: &str, broods: &str) -> Result<Vec<Taxon>, TraitTableError> {
    let mut of_taxon: BTreeMap<String, Vec<Brood>> = BTreeMap::new();
    for row in csv::Reader::from_reader(broods.as_bytes()).deserialize() {
        let row: BroodRow = row?;
        of_taxon.entry(row.slug).or_default().push(Brood {
            number: row.brood,
            median_day_of_year: row.median_day_of_year,
            sd_days: row.sd_days,
            provenance: row.provenance,
        });
    }
    csv::Reader::from_reader(traits.as_bytes())
        .deserialize()
        .map(|row| {
            let row: TraitRow = row?;
            let broods = of_taxon.remove(&row.slug).unwrap_or_default();
            Ok(taxon(row, broods)?)
        })
        .collect()
}

fn taxon(row: TraitRow, broods: Vec<Brood>) -> Result<Taxon, Invalid> {
    let day = |field, text: Option<String>| text.map(|t| MonthDay::parse(field, &t)).transpose();
    let window = day("window_early", row.window_early)?.zip(day("window_late", row.window_late)?);
    Ok(Taxon {
        slug: Slug::new(&row.slug)?,
        scientific_name: row.taxon,
        rank: row.rank,
        order: row.order,
        region: row.region,
        base_temp_c: row.base_temp_c,
        base_temp_sd: row.base_temp_sd,
        window,
        peak_hour: row.peak_hour_local_solar,
        peak_hour_sd: row.peak_hour_sd,
        spinner_time: row.spinner_time,
        emergence_mode: row.emergence_mode.map(|mode| EmergenceMode::parse(&mode)).transpose()?,
        oviposition_mode: row.oviposition_mode,
        nymph_habit: row.nymph_habit,
        voltinism: row.voltinism,
        body_mm: row.body_mm_min.zip(row.body_mm_max),
        hooks: row.hook_size_large.zip(row.hook_size_small),
        water_type: row.water_type,
        emergence_water_c: row.water_temp_emergence_c_low.zip(row.water_temp_emergence_c_high),
        provenance: Provenance {
            thermal: row.provenance_thermal,
            window: row.provenance_window,
            behaviour: row.provenance_behaviour,
            size: row.provenance_size,
        },
        note: row.note,
        broods,
    })
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn the_table_can_be_read_whole_and_names_its_sources() {
        let taxa = taxa().expect("a sound table");
        assert_eq!(taxa.len(), TRAITS.lines().count() - 1);
        assert_eq!(taxa.iter().map(|t| t.broods.len()).sum::<usize>(), BROODS.lines().count() - 1);
        let slugs: BTreeSet<&Slug> = taxa.iter().map(|t| &t.slug).collect();
        assert_eq!(slugs.len(), taxa.len());
        for taxon in &taxa {
            let sources = &taxon.provenance;
            for source in [&sources.thermal, &sources.window, &sources.behaviour, &sources.size] {
                assert!(!source.is_empty(), "{}", taxon.slug);
            }
        }
    }

    #[test]
    fn wrong_values_are_refused() {
        let broken = TRAITS.replacen("pupal_ascent", "by boat", 1);
        assert!(matches!(parse(&broken, BROODS), Err(TraitTableError::Value(_))));
        let broken = BROODS.replacen(",18,", ",soon,", 1);
        assert!(matches!(parse(TRAITS, &broken), Err(TraitTableError::Row(_))));
    }
}
