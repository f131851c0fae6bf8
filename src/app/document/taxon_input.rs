//! Taxa to declare or change.

use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::number::{optional_u32, optional_u32s};
use super::taxon_looks::{NameInput, colours, names, tails};
use super::{Faults, Input};
use crate::domain::place::in_range;
use crate::domain::taxon::{EmergenceMode, MonthDay, Provenance};
use crate::domain::{Brood, Invalid, Looks, Slug, Taxon, WindowReference};

/// A taxon to declare or change. Without traits it gets wide priors.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct TaxonInput {
    /// Unique short name.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^[A-Za-z0-9_-]{1,64}$", example = "ephemera-danica")]
    pub slug: Option<String>,
    /// Scientific name of the lowest rank determined, or of the group.
    #[garde(required, length(chars, min = 1, max = 200))]
    #[schema(value_type = String, min_length = 1, max_length = 200, example = "Ephemera danica")]
    pub scientific_name: Option<String>,
    /// `species`, `genus`, `family`, `order` or `group`.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^(species|genus|family|order|group)$", example = "species")]
    pub rank: Option<String>,
    /// Order.
    #[garde(length(chars, max = 100))]
    #[schema(max_length = 100)]
    pub order: Option<String>,
    /// First usual day of the season; needs `window_late`.
    #[garde(skip)]
    #[schema(pattern = "^[01][0-9]-[0-3][0-9]$", example = "05-10")]
    pub window_early: Option<String>,
    /// Last usual day of the season; needs `window_early`.
    #[garde(skip)]
    #[schema(pattern = "^[01][0-9]-[0-3][0-9]$", example = "06-15")]
    pub window_late: Option<String>,
    /// The waters that window and broods speak of: `mid-latitudes-41-45-n`, `northern-europe-50-54-n` or
    /// `southeastern-plain-30-34-n`. Left out where they speak of the waters that it lives in, whose days are not moved.
    #[garde(skip)]
    #[schema(pattern = "^(mid-latitudes-41-45-n|northern-europe-50-54-n|southeastern-plain-30-34-n)$")]
    pub window_reference: Option<String>,
    /// Lower developmental threshold, degrees Celsius.
    #[garde(skip)]
    #[schema(minimum = -5, maximum = 25)]
    pub base_temp_c: Option<f64>,
    /// Its standard deviation.
    #[garde(skip)]
    #[schema(minimum = 0, maximum = 20)]
    pub base_temp_sd: Option<f64>,
    /// Hour of peak emergence, local solar time.
    #[garde(skip)]
    #[schema(minimum = 0, maximum = 24)]
    pub peak_hour: Option<f64>,
    /// `surface`, `bottom`, `crawl-out` or `pupal-ascent`.
    #[garde(skip)]
    #[schema(pattern = "^(surface|bottom|crawl-out|pupal-ascent)$")]
    pub emergence_mode: Option<String>,
    /// How eggs are laid.
    #[garde(length(chars, max = 100))]
    #[schema(max_length = 100)]
    pub oviposition_mode: Option<String>,
    /// Habit of the nymph.
    #[garde(length(chars, max = 100))]
    #[schema(max_length = 100)]
    pub nymph_habit: Option<String>,
    /// Smallest body length without tails, mm; needs `body_mm_max`.
    #[garde(skip)]
    #[schema(minimum = 0, maximum = 100)]
    pub body_mm_min: Option<f64>,
    /// Largest body length without tails, mm; needs `body_mm_min`.
    #[garde(skip)]
    #[schema(minimum = 0, maximum = 100)]
    pub body_mm_max: Option<f64>,
    /// Numbers of tails plain to see on the winged insect: 0, 2, 3.
    #[serde(deserialize_with = "optional_u32s")]
    #[garde(length(max = 3))]
    #[schema(max_items = 3, example = json!([2]))]
    pub tails: Option<Vec<u32>>,
    /// Colours of the body: `black`, `grey`, `brown`, `rust`, `olive`, `green`, `yellow`, `cream`, `orange`, `clear`.
    #[garde(length(max = 10))]
    #[schema(max_items = 10, example = json!(["olive"]))]
    pub body_colours: Option<Vec<String>>,
    /// Colours of the wings, in the same words.
    #[garde(length(max = 10))]
    #[schema(max_items = 10, example = json!(["grey"]))]
    pub wing_colours: Option<Vec<String>>,
    /// Larger hook (smaller number); needs `hook_small`.
    #[serde(deserialize_with = "optional_u32")]
    #[garde(range(min = 1, max = 32))]
    #[schema(minimum = 1, maximum = 32)]
    pub hook_large: Option<u32>,
    /// Smaller hook (larger number); needs `hook_large`.
    #[serde(deserialize_with = "optional_u32")]
    #[garde(range(min = 1, max = 32))]
    #[schema(minimum = 1, maximum = 32)]
    pub hook_small: Option<u32>,
    /// What people call it, the usual name of each language first.
    #[garde(length(max = 12), dive)]
    #[schema(max_items = 12)]
    pub names: Option<Vec<NameInput>>,
    /// Anything else.
    #[garde(length(chars, max = 2000))]
    #[schema(max_length = 2000)]
    pub note: Option<String>,
    /// Broods; left out means one brood placed by the window.
    #[garde(length(max = 6), dive)]
    #[schema(max_items = 6)]
    pub broods: Option<Vec<BroodInput>>,
}

/// Prior for one brood to declare.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct BroodInput {
    /// Prior median day of the year.
    #[garde(required, range(min = 1.0, max = 366.0))]
    #[schema(value_type = f64, minimum = 1, maximum = 366)]
    pub median_day_of_year: Option<f64>,
    /// Its standard deviation, days.
    #[garde(required, range(min = 0.5, max = 180.0))]
    #[schema(value_type = f64, minimum = 0.5, maximum = 180)]
    pub sd_days: Option<f64>,
    /// Where it comes from.
    #[garde(length(chars, max = 500))]
    #[schema(max_length = 500)]
    pub provenance: Option<String>,
}

impl From<&Taxon> for TaxonInput {
    fn from(t: &Taxon) -> Self {
        Self {
            slug: Some(t.slug.to_string()),
            scientific_name: Some(t.scientific_name.clone()),
            rank: Some(t.rank.clone()),
            order: t.order.clone(),
            window_early: t.window.map(|(early, _)| early.to_string()),
            window_late: t.window.map(|(_, late)| late.to_string()),
            window_reference: t.window_reference.map(|reference| reference.as_str().to_owned()),
            base_temp_c: t.base_temp_c,
            base_temp_sd: t.base_temp_sd,
            peak_hour: t.peak_hour,
            emergence_mode: t.emergence_mode.map(|mode| mode.as_str().to_owned()),
            oviposition_mode: t.oviposition_mode.clone(),
            nymph_habit: t.nymph_habit.clone(),
            body_mm_min: t.body_mm.map(|(low, _)| low),
            body_mm_max: t.body_mm.map(|(_, high)| high),
            tails: Some(t.looks.tails.iter().map(|number| u32::from(*number)).collect()),
            body_colours: Some(t.looks.body.iter().map(|colour| colour.as_str().to_owned()).collect()),
            wing_colours: Some(t.looks.wings.iter().map(|colour| colour.as_str().to_owned()).collect()),
            hook_large: t.hooks.map(|(large, _)| u32::from(large)),
            hook_small: t.hooks.map(|(_, small)| u32::from(small)),
            names: Some(t.names.iter().map(NameInput::from).collect()),
            note: t.note.clone(),
            broods: Some(
                t.broods
                    .iter()
                    .map(|b| BroodInput {
                        median_day_of_year: Some(b.median_day_of_year),
                        sd_days: Some(b.sd_days),
                        provenance: Some(b.provenance.clone()),
                    })
                    .collect(),
            ),
        }
    }
}

/// Both ends or neither, the first not above the second.
fn pair<T: PartialOrd + Copy>(
    faults: &mut Faults,
    (low_pointer, low): (&str, Option<T>),
    (high_pointer, high): (&str, Option<T>),
) -> Option<(T, T)> {
    match (low, high) {
        (Some(low), Some(high)) if low <= high => Some((low, high)),
        (Some(_), Some(_)) => {
            faults.add(high_pointer, "out_of_order", "must not lie below its other end");
            None
        }
        (Some(_), None) => {
            faults.add(high_pointer, "missing", "is required when its other end is given");
            None
        }
        (None, Some(_)) => {
            faults.add(low_pointer, "missing", "is required when its other end is given");
            None
        }
        (None, None) => None,
    }
}

impl Input for TaxonInput {
    type Domain = Taxon;

    fn into_domain(self, faults: &mut Faults) -> Option<Taxon> {
        let number = |faults: &mut Faults, field: &'static str, value: Option<f64>, low: f64, high: f64| {
            let rule = format!("between {low} and {high}");
            faults.check_optional(&format!("#/{field}"), value, |v| in_range(field, v, low, high, &rule)).flatten()
        };
        let slug = self.slug.and_then(|text| faults.check("#/slug", Slug::new(&text)));
        let rank = self.rank.and_then(|text| faults.check("#/rank", check_rank(text)));
        let early = self.window_early.and_then(|t| faults.check("#/window_early", MonthDay::parse("window_early", &t)));
        let late = self.window_late.and_then(|t| faults.check("#/window_late", MonthDay::parse("window_late", &t)));
        if early.is_some() != late.is_some() {
            let absent = if early.is_some() { "#/window_late" } else { "#/window_early" };
            faults.add(absent, "missing", "is required when its other end is given");
        }
        let reference = self.window_reference;
        let reference = faults.check_optional("#/window_reference", reference, |text| WindowReference::parse(&text));
        let mode = faults.check_optional("#/emergence_mode", self.emergence_mode, |text| EmergenceMode::parse(&text));
        let body_min = number(faults, "body_mm_min", self.body_mm_min, 0.0, 100.0);
        let body_max = number(faults, "body_mm_max", self.body_mm_max, 0.0, 100.0);
        let body_mm = pair(faults, ("#/body_mm_min", body_min), ("#/body_mm_max", body_max));
        let hook = |value: Option<u32>| value.and_then(|n| u8::try_from(n).ok());
        let hooks = pair(faults, ("#/hook_large", hook(self.hook_large)), ("#/hook_small", hook(self.hook_small)));
        let broods = self.broods.unwrap_or_default();
        let looks = Looks {
            tails: tails(faults, self.tails.unwrap_or_default()),
            body: colours(faults, "#/body_colours", self.body_colours.unwrap_or_default()),
            wings: colours(faults, "#/wing_colours", self.wing_colours.unwrap_or_default()),
        };
        let names = names(faults, self.names.unwrap_or_default());
        let mut taxon = Taxon::bare(slug?, self.scientific_name?, rank?);
        taxon.order = self.order;
        taxon.window = early.zip(late);
        taxon.window_reference = reference.flatten();
        taxon.base_temp_c = number(faults, "base_temp_c", self.base_temp_c, -5.0, 25.0);
        taxon.base_temp_sd = number(faults, "base_temp_sd", self.base_temp_sd, 0.0, 20.0);
        taxon.peak_hour = number(faults, "peak_hour", self.peak_hour, 0.0, 24.0);
        taxon.emergence_mode = mode.flatten();
        taxon.oviposition_mode = self.oviposition_mode;
        taxon.nymph_habit = self.nymph_habit;
        taxon.body_mm = body_mm;
        taxon.hooks = hooks;
        (taxon.looks, taxon.names) = (looks, names);
        taxon.note = self.note;
        taxon.provenance = given_by_keeper();
        for (index, brood) in broods.into_iter().enumerate() {
            taxon.broods.push(Brood {
                number: u8::try_from(index + 1).ok()?,
                median_day_of_year: brood.median_day_of_year?,
                sd_days: brood.sd_days?,
                provenance: brood.provenance.unwrap_or_else(|| GIVEN.to_owned()),
            });
        }
        Some(taxon)
    }
}

pub(super) const GIVEN: &str = "given by the keeper";

fn given_by_keeper() -> Provenance {
    Provenance {
        thermal: GIVEN.to_owned(),
        window: GIVEN.to_owned(),
        behaviour: GIVEN.to_owned(),
        size: GIVEN.to_owned(),
        looks: GIVEN.to_owned(),
    }
}

fn check_rank(text: String) -> Result<String, Invalid> {
    if ["species", "genus", "family", "order", "group"].contains(&text.as_str()) {
        Ok(text)
    } else {
        Err(Invalid::new("rank", text, "must be one of species, genus, family, order, group"))
    }
}
