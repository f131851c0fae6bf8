//! Whom to thank for readings.

use serde::Serialize;
use utoipa::ToSchema;

use crate::domain::source::Credit;

/// Whom to thank for readings.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct CreditDocument {
    /// Name of the source and what to know of its data.
    pub text: String,
    /// Its licence.
    #[schema(example = "US public domain")]
    pub licence: &'static str,
    /// Where to read more.
    pub url: String,
}

impl From<Credit> for CreditDocument {
    fn from(credit: Credit) -> Self {
        Self { text: credit.text, licence: credit.licence, url: credit.url }
    }
}
