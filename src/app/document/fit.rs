//! Fits, and the wish for a new one.

use chrono::{DateTime, NaiveDate, Utc};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::forecast::WeightsDocument;
use super::skill::CoverDocument;
use super::{Faults, Input};
use crate::domain::{Fit, Slug};

/// A stored fit of one taxon and brood. The fitted parameters themselves stay inside.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FitDocument {
    /// Identifier.
    pub id: Uuid,
    /// Watershed slug.
    pub watershed: String,
    /// Taxon slug.
    pub taxon: String,
    /// Brood, from 1.
    pub brood: u8,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// Only what was true and known up to the end of this local day was used; null means all.
    #[schema(required)]
    pub through: Option<NaiveDate>,
    /// Records it saw.
    pub records: u32,
    /// Years with records.
    pub years: u32,
    /// True when the data were too few to leave the prior.
    pub prior_driven: bool,
    /// Weights of the four clocks, sum 1.
    pub weights: WeightsDocument,
    /// Left-out log score better than the best calendar by more than one standard error.
    pub beats_calendar: bool,
    /// Factor by which intervals of dates are wider than the model draws them, at least 1, because years
    /// left out escaped them; null for fits made before it was kept.
    #[schema(required)]
    pub widening: Option<f64>,
    /// How often intervals so widened held in years left out, as scored since this fit; null until then.
    #[schema(required)]
    pub cover: Option<CoverDocument>,
    /// Doubts found while fitting.
    pub warnings: Vec<String>,
}

impl From<&Fit> for FitDocument {
    fn from(fit: &Fit) -> Self {
        Self {
            id: fit.id,
            watershed: fit.watershed.to_string(),
            taxon: fit.taxon.to_string(),
            brood: fit.brood,
            created_at: fit.created_at,
            through: fit.through,
            records: fit.records,
            years: fit.years,
            prior_driven: fit.prior_driven,
            weights: fit.weights.into(),
            beats_calendar: fit.beats_calendar,
            widening: fit.widening,
            cover: None,
            warnings: fit.warnings.clone(),
        }
    }
}

/// What to fit anew; an empty object means every taxon with all data.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct FitInput {
    /// Only this taxon.
    #[garde(skip)]
    #[schema(pattern = "^[A-Za-z0-9_-]{1,64}$")]
    pub taxon: Option<String>,
}

/// A checked wish for a fit.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FitRequest {
    /// Only this taxon; `None` means all.
    pub taxon: Option<Slug>,
}

impl Input for FitInput {
    type Domain = FitRequest;

    fn into_domain(self, faults: &mut Faults) -> Option<FitRequest> {
        let taxon = faults.check_optional("#/taxon", self.taxon, |text| Slug::new(&text))?;
        Some(FitRequest { taxon })
    }
}
