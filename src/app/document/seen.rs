//! The answer to "what did I just see?".

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use super::seen_words::SeenSpeaker;
use crate::model::guidance::seen::{Match, Ranking, Reason};

/// What an insect may have been: the taxa of the watershed ranked by what was seen of it. The odds of all
/// taxa and of none of them sum to 1; they begin with the forecast's expectation for the day and hour, and
/// each sign given multiplies them by its factor.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeenDocument {
    /// Watershed slug.
    #[schema(example = "ostrey")]
    pub watershed: String,
    /// Reach slug.
    #[schema(example = "mill-meadow")]
    pub reach: String,
    /// The moment spoken of.
    pub at: DateTime<Utc>,
    /// Every taxon of the watershed, the likeliest first.
    pub taxa: Vec<SeenTaxonDocument>,
    /// Odds of an insect that is none of these, 0 to 1.
    #[schema(example = 0.04)]
    pub none_of_these: f64,
    /// What to look at next, most telling first.
    pub look_next: Vec<String>,
}

/// A taxon with its odds.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeenTaxonDocument {
    /// Taxon slug.
    #[schema(example = "baetis-rhodani")]
    pub taxon: String,
    /// Scientific name.
    #[schema(example = "Baetis rhodani")]
    pub scientific_name: String,
    /// Usual name in the language of the document, English under `/v1`; null where nobody said one.
    #[schema(required, example = "Large dark olive")]
    pub name: Option<String>,
    /// Share of the weight, 0 to 1.
    #[schema(example = 0.62)]
    pub odds: f64,
    /// What tells for it, most telling first.
    pub speaks_for: Vec<SeenReasonDocument>,
    /// What tells against it, most telling first.
    pub speaks_against: Vec<SeenReasonDocument>,
}

/// Something that tells for or against a taxon.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SeenReasonDocument {
    /// In words.
    #[schema(example = "8 mm lies within its 5 to 9 mm")]
    pub because: String,
    /// By how much it multiplies the odds against any insect; null for the forecast.
    #[schema(required, example = 6.4)]
    pub factor: Option<f64>,
    /// Where the trait comes from that it rests on.
    #[schema(example = "common practice, no source")]
    pub provenance: String,
}

impl SeenReasonDocument {
    fn new(reason: Reason, speaker: SeenSpeaker) -> Self {
        // Hundredths are finer than the weights are known.
        let factor = reason.factor.map(|factor| (100.0 * factor).round() / 100.0);
        Self { because: speaker.because(&reason.because), factor, provenance: reason.provenance }
    }
}

impl SeenTaxonDocument {
    fn new(found: Match<'_>, speaker: SeenSpeaker) -> Self {
        let told = |reasons: Vec<Reason>| -> Vec<SeenReasonDocument> {
            reasons.into_iter().map(|reason| SeenReasonDocument::new(reason, speaker)).collect()
        };
        Self {
            taxon: found.taxon.slug.to_string(),
            scientific_name: found.taxon.scientific_name.clone(),
            name: found.taxon.usual_name(speaker.language.of_names()).map(str::to_owned),
            odds: found.odds,
            speaks_for: told(found.speaks_for),
            speaks_against: told(found.speaks_against),
        }
    }
}

impl SeenDocument {
    /// The document of `ranking` for `at` on `reach` of `watershed`.
    #[must_use]
    pub fn new(
        (watershed, reach): (String, String),
        at: DateTime<Utc>,
        ranking: Ranking<'_>,
        speaker: SeenSpeaker,
    ) -> Self {
        let look_next = speaker.look_next(&ranking);
        Self {
            watershed,
            reach,
            at,
            taxa: ranking.taxa.into_iter().map(|found| SeenTaxonDocument::new(found, speaker)).collect(),
            none_of_these: ranking.none_of_these,
            look_next,
        }
    }
}
