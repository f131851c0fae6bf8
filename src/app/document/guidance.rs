//! The guidance document: insects, stages and sizes of one moment on one reach, with reasons.

use std::sync::Arc;

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use super::forecast::CautionDocument;
use super::water_hours::WaterHourDocument;
use crate::app::called::called;
use crate::domain::{Slug, Taxon};
use crate::model::guidance::{Advice, Fired, Hint};
use crate::say;
use crate::words::Language;

/// What to put on at one hour on one reach. The weights of each list sum to 1, largest first; what weighs
/// less than half a hundredth is left out.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct GuidanceDocument {
    /// Watershed slug.
    #[schema(example = "ostrey")]
    pub watershed: String,
    /// Reach slug.
    #[schema(example = "mill-meadow")]
    pub reach: String,
    /// The moment spoken of.
    pub at: DateTime<Utc>,
    /// Insects with their odds; empty where no forecast is published for the day.
    pub taxa: Vec<TaxonWeightDocument>,
    /// Life stages with their odds.
    pub stages: Vec<StageWeightDocument>,
    /// Imitations by generic names.
    pub imitations: Vec<ImitationDocument>,
    /// Body length of the imitation without tails, mm; null where the insect's is not known.
    #[schema(required)]
    pub length_mm: Option<LengthDocument>,
    /// Hook sizes; null where they are not known.
    #[schema(required)]
    pub hooks: Option<HooksDocument>,
    /// Water to stand by: `riffle`, `run`, `pool`, `slow-margin` or `still-water`; null where nothing
    /// speaks for one.
    #[schema(required, example = "riffle")]
    pub water_type: Option<String>,
    /// Water at this hour; null where no forecast tells it.
    #[schema(required)]
    pub water: Option<WaterHourDocument>,
    /// What to look at next, most telling first.
    pub check_next: Vec<String>,
    /// The rules that fired in a twentieth of the weight or more, widest first.
    pub rules: Vec<RuleDocument>,
    /// What to mind.
    pub cautions: Vec<CautionDocument>,
}

/// An insect and its odds.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TaxonWeightDocument {
    /// Taxon slug.
    #[schema(example = "ephemera-danica")]
    pub taxon: String,
    /// Share of the weight, 0 to 1.
    pub weight: f64,
}

/// A life stage and its odds.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StageWeightDocument {
    /// `nymph`, `pupa`, `emerger`, `dun`, `adult`, `spinner` or `spent`.
    #[schema(example = "emerger")]
    pub stage: String,
    /// Share of the weight, 0 to 1.
    pub weight: f64,
}

/// An imitation and its odds.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ImitationDocument {
    /// Generic name.
    #[schema(example = "spent spinner")]
    pub name: String,
    /// Share of the weight, 0 to 1.
    pub weight: f64,
}

/// A range of body lengths.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct LengthDocument {
    /// Smallest, mm.
    pub from: f64,
    /// Largest, mm.
    pub to: f64,
}

/// A range of hooks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, ToSchema)]
pub struct HooksDocument {
    /// Largest hook (smallest number).
    #[schema(example = 12)]
    pub from: u8,
    /// Smallest hook (largest number).
    #[schema(example = 16)]
    pub to: u8,
}

/// A rule that fired.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct RuleDocument {
    /// Stable short name.
    #[schema(example = "surface-peak")]
    pub id: String,
    /// Why, in words.
    pub because: String,
    /// A published source, `from memory`, or `common practice, no source`.
    #[schema(example = "common practice, no source")]
    pub provenance: String,
}

/// In which language a document speaks, of which insects.
#[derive(Debug, Clone, Copy)]
pub struct Speaker<'a> {
    /// The language.
    pub language: Language,
    /// The insects of the water.
    pub taxa: &'a [Arc<Taxon>],
}

impl Speaker<'_> {
    fn find(&self, slug: &Slug) -> Option<&Taxon> {
        self.taxa.iter().find(|taxon| taxon.slug == *slug).map(|taxon| &**taxon)
    }

    fn name(&self, slug: &Slug) -> String {
        self.find(slug).map_or_else(|| slug.to_string(), |taxon| called(self.language, taxon).to_string())
    }

    fn rule(&self, fired: &Fired) -> RuleDocument {
        let because = self.language.of_table("rule", fired.id, fired.because);
        let names: Vec<String> = fired.about.iter().map(|slug| self.name(slug)).collect();
        let because = if names.is_empty() { because } else { format!("{}: {because}", names.join(", ")) };
        RuleDocument { id: fired.id.to_owned(), because, provenance: fired.provenance.to_owned() }
    }

    fn hint(&self, hint: Hint) -> String {
        let language = self.language;
        match hint {
            Hint::OfRule(id, words) => language.of_table("check", id, words),
            Hint::TwoAbout(two) => {
                let [first, second] = two.map(|(slug, weight)| {
                    let chance = say!(language, "in-100", chance = format!("{:.0}", 100.0 * weight));
                    let length = self.find(&slug).and_then(|taxon| taxon.body_mm).map(|(from, to)| {
                        let (from, to) = (language.plain_number(from), language.plain_number(to));
                        format!(", {}", say!(language, "units-lengths", from = from, to = to))
                    });
                    format!("{} ({chance}{})", self.name(&slug), length.unwrap_or_default())
                });
                say!(language, "guidance-two-about", first = first, second = second)
            }
        }
    }
}

impl GuidanceDocument {
    /// The document of `advice` for `at` on `reach` of `watershed`.
    #[must_use]
    pub fn new(
        (watershed, reach): (String, String),
        at: DateTime<Utc>,
        advice: Advice,
        water: Option<WaterHourDocument>,
        cautions: Vec<CautionDocument>,
        speaker: Speaker<'_>,
    ) -> Self {
        // Tenths of a millimetre are finer than anyone measures.
        let tenth = |mm: f64| (10.0 * mm).round() / 10.0;
        Self {
            watershed,
            reach,
            at,
            taxa: advice
                .taxa
                .into_iter()
                .map(|(taxon, weight)| TaxonWeightDocument { taxon: taxon.to_string(), weight })
                .collect(),
            stages: advice
                .stages
                .into_iter()
                .map(|(stage, weight)| StageWeightDocument { stage: stage.as_str().to_owned(), weight })
                .collect(),
            imitations: advice
                .imitations
                .into_iter()
                .map(|(name, weight)| ImitationDocument {
                    name: speaker.language.of_table("imitation", name, name),
                    weight,
                })
                .collect(),
            length_mm: advice.length_mm.map(|(from, to)| LengthDocument { from: tenth(from), to: tenth(to) }),
            hooks: advice.hooks.map(|(from, to)| HooksDocument { from, to }),
            water_type: advice.water.map(|water| water.as_str().to_owned()),
            water,
            check_next: advice.check_next.into_iter().map(|hint| speaker.hint(hint)).collect(),
            rules: advice.rules.into_iter().map(|fired| speaker.rule(&fired)).collect(),
            cautions,
        }
    }
}
