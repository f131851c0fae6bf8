//! Taxa with their traits.

use serde::Serialize;
use utoipa::ToSchema;

use super::taxon_looks::NameDocument;
use crate::domain::taxon::EmergenceMode;
use crate::domain::{Taxon, WindowReference};

/// A taxon with its traits; every trait may be null.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TaxonDocument {
    /// Unique short name, the same in every watershed.
    #[schema(example = "ephemera-danica")]
    pub slug: String,
    /// Scientific name of the lowest rank determined, or of the group.
    #[schema(example = "Ephemera danica")]
    pub scientific_name: String,
    /// What people call it, the usual name of each language first.
    pub names: Vec<NameDocument>,
    /// `species`, `genus`, `family`, `order` or `group`.
    #[schema(example = "species")]
    pub rank: String,
    /// Order.
    #[schema(required)]
    pub order: Option<String>,
    /// Region the traits speak of.
    #[schema(required)]
    pub region: Option<String>,
    /// First usual day of the season, `MM-DD`.
    #[schema(required)]
    pub window_early: Option<String>,
    /// Last usual day of the season, `MM-DD`.
    #[schema(required)]
    pub window_late: Option<String>,
    /// The waters that the season window and the middles of broods speak of: elsewhere forecasts without records move
    /// them by warmth or latitude, and turn them south of the equator. `mid-latitudes-41-45-n`,
    /// `northern-europe-50-54-n`, `southeastern-plain-30-34-n`; null means the waters that it lives in.
    #[schema(required)]
    pub window_reference: Option<&'static str>,
    /// Lower developmental threshold, degrees Celsius.
    #[schema(required)]
    pub base_temp_c: Option<f64>,
    /// Its standard deviation.
    #[schema(required)]
    pub base_temp_sd: Option<f64>,
    /// Hour of peak emergence, local solar time.
    #[schema(required)]
    pub peak_hour: Option<f64>,
    /// Its standard deviation, hours.
    #[schema(required)]
    pub peak_hour_sd: Option<f64>,
    /// When spinners fly, in words.
    #[schema(required)]
    pub spinner_time: Option<String>,
    /// How the winged insect leaves the water.
    #[schema(required)]
    pub emergence_mode: Option<&'static str>,
    /// How eggs are laid.
    #[schema(required)]
    pub oviposition_mode: Option<String>,
    /// Habit of the nymph.
    #[schema(required)]
    pub nymph_habit: Option<String>,
    /// Generations a year, in words.
    #[schema(required)]
    pub voltinism: Option<String>,
    /// Smallest body length without tails, mm.
    #[schema(required)]
    pub body_mm_min: Option<f64>,
    /// Largest body length without tails, mm.
    #[schema(required)]
    pub body_mm_max: Option<f64>,
    /// Numbers of tails plain to see on the winged insect: 0, 2, 3; empty where nobody said.
    pub tails: Vec<u8>,
    /// Colours of the body, all winged stages together.
    pub body_colours: Vec<&'static str>,
    /// Colours of the wings, all winged stages together.
    pub wing_colours: Vec<&'static str>,
    /// Larger hook (smaller number).
    #[schema(required)]
    pub hook_large: Option<u8>,
    /// Smaller hook (larger number).
    #[schema(required)]
    pub hook_small: Option<u8>,
    /// Water it prefers, in words.
    #[schema(required)]
    pub water_type: Option<String>,
    /// Priors for its broods.
    pub broods: Vec<BroodDocument>,
    /// Where the values come from.
    pub provenance: ProvenanceDocument,
    /// Anything else.
    #[schema(required)]
    pub note: Option<String>,
}

/// Prior for one brood.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct BroodDocument {
    /// 1 for the first of the year.
    pub number: u8,
    /// Prior median day of the year.
    pub median_day_of_year: f64,
    /// Its standard deviation, days.
    pub sd_days: f64,
    /// Where it comes from.
    pub provenance: String,
}

/// Where groups of trait values come from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ProvenanceDocument {
    /// Of the thermal values.
    pub thermal: String,
    /// Of the season window.
    pub window: String,
    /// Of behaviour and hours.
    pub behaviour: String,
    /// Of body length and hook range.
    pub size: String,
    /// Of tails and colours.
    pub looks: String,
}

impl From<&Taxon> for TaxonDocument {
    fn from(t: &Taxon) -> Self {
        Self {
            slug: t.slug.to_string(),
            scientific_name: t.scientific_name.clone(),
            names: t.names.iter().map(NameDocument::from).collect(),
            rank: t.rank.clone(),
            order: t.order.clone(),
            region: t.region.clone(),
            window_early: t.window.map(|(early, _)| early.to_string()),
            window_late: t.window.map(|(_, late)| late.to_string()),
            window_reference: t.window_reference.map(WindowReference::as_str),
            base_temp_c: t.base_temp_c,
            base_temp_sd: t.base_temp_sd,
            peak_hour: t.peak_hour,
            peak_hour_sd: t.peak_hour_sd,
            spinner_time: t.spinner_time.clone(),
            emergence_mode: t.emergence_mode.map(EmergenceMode::as_str),
            oviposition_mode: t.oviposition_mode.clone(),
            nymph_habit: t.nymph_habit.clone(),
            voltinism: t.voltinism.clone(),
            body_mm_min: t.body_mm.map(|(low, _)| low),
            body_mm_max: t.body_mm.map(|(_, high)| high),
            tails: t.looks.tails.clone(),
            body_colours: t.looks.body.iter().map(|colour| colour.as_str()).collect(),
            wing_colours: t.looks.wings.iter().map(|colour| colour.as_str()).collect(),
            hook_large: t.hooks.map(|(large, _)| large),
            hook_small: t.hooks.map(|(_, small)| small),
            water_type: t.water_type.clone(),
            broods: t
                .broods
                .iter()
                .map(|b| BroodDocument {
                    number: b.number,
                    median_day_of_year: b.median_day_of_year,
                    sd_days: b.sd_days,
                    provenance: b.provenance.clone(),
                })
                .collect(),
            provenance: ProvenanceDocument {
                thermal: t.provenance.thermal.clone(),
                window: t.provenance.window.clone(),
                behaviour: t.provenance.behaviour.clone(),
                size: t.provenance.size.clone(),
                looks: t.provenance.looks.clone(),
            },
            note: t.note.clone(),
        }
    }
}
