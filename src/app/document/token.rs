//! Tokens: listed without their secret, which is shown once when made.

use chrono::{DateTime, NaiveDate, Utc};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::number::optional_u32;
use super::{Faults, Input};
use crate::domain::Slug;
use crate::domain::token::{Role, Token};

/// A token as listed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct TokenDocument {
    /// Identifier used to revoke it.
    pub id: Uuid,
    /// Who or what it is for.
    pub name: String,
    /// `member` or `keeper`.
    #[schema(example = "member")]
    pub role: &'static str,
    /// Watersheds it is bound to.
    pub watersheds: Vec<String>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it ends.
    pub expires_at: DateTime<Utc>,
    /// When it was revoked.
    #[schema(required)]
    pub revoked_at: Option<DateTime<Utc>>,
    /// Day of last use.
    #[schema(required)]
    pub last_used_date: Option<NaiveDate>,
}

impl From<&Token> for TokenDocument {
    fn from(token: &Token) -> Self {
        Self {
            id: token.id,
            name: token.name.clone(),
            role: token.role.as_str(),
            watersheds: token.watersheds.iter().map(Slug::to_string).collect(),
            created_at: token.created_at,
            expires_at: token.expires_at,
            revoked_at: token.revoked_at,
            last_used_date: token.last_used_date,
        }
    }
}

/// A token just made, with its secret.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NewTokenDocument {
    /// The token as listed later.
    #[serde(flatten)]
    pub token: TokenDocument,
    /// The secret, shown this once and kept nowhere.
    #[schema(example = "subimago_<43 characters><6 characters>")]
    pub secret: String,
}

/// What was gone through when the person behind a token was forgotten.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ErasureDocument {
    /// The token, which has ended.
    pub token: Uuid,
    /// Reports whose free text is gone, withdrawn ones included.
    pub reports: u64,
    /// Earlier versions of reports whose free text is gone.
    pub revisions: u64,
    /// Kept answers to requests that are gone.
    pub answers: u64,
}

/// A wish for a token.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct TokenInput {
    /// Who or what it is for.
    #[garde(required, length(chars, min = 1, max = 100))]
    #[schema(value_type = String, min_length = 1, max_length = 100, example = "Evening walks")]
    pub name: Option<String>,
    /// `member` or `keeper`.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^(member|keeper)$", example = "member")]
    pub role: Option<String>,
    /// Watersheds to bind it to; all must be the maker's own.
    #[garde(required, length(min = 1, max = 50))]
    #[schema(value_type = Vec<String>, min_items = 1, max_items = 50)]
    pub watersheds: Option<Vec<String>>,
    /// Days until it ends, 365 when left out.
    #[serde(deserialize_with = "optional_u32")]
    #[garde(range(min = 1, max = 3650))]
    #[schema(minimum = 1, maximum = 3650)]
    pub days: Option<u32>,
}

/// A checked wish for a token.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TokenRequest {
    /// Who or what it is for.
    pub name: String,
    /// Role.
    pub role: Role,
    /// Watersheds to bind it to.
    pub watersheds: Vec<Slug>,
    /// Days until it ends.
    pub days: u32,
}

impl Input for TokenInput {
    type Domain = TokenRequest;

    fn into_domain(self, faults: &mut Faults) -> Option<TokenRequest> {
        let role = self.role.and_then(|text| faults.check("#/role", Role::parse(&text)));
        let mut watersheds = Vec::new();
        for (index, text) in self.watersheds.unwrap_or_default().iter().enumerate() {
            watersheds.extend(faults.check(&format!("#/watersheds/{index}"), Slug::new(text)));
        }
        Some(TokenRequest { name: self.name?, role: role?, watersheds, days: self.days.unwrap_or(365) })
    }
}
