//! Join codes: made by keepers, exchanged by members for a token of their own.

use chrono::{DateTime, Utc};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::number::{optional_u32, optional_uuid};
use super::{Faults, Input};
use crate::domain::JoinCode;

/// A join code as listed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct JoinCodeDocument {
    /// Identifier used to revoke it.
    pub id: Uuid,
    /// Watershed slug.
    pub watershed: String,
    /// Whom it is for.
    pub name: String,
    /// How many may use it.
    pub most_uses: u32,
    /// How many have.
    pub uses: u32,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it ends.
    pub expires_at: DateTime<Utc>,
    /// When it was revoked.
    #[schema(required)]
    pub revoked_at: Option<DateTime<Utc>>,
}

impl From<&JoinCode> for JoinCodeDocument {
    fn from(code: &JoinCode) -> Self {
        let JoinCode { id, watershed, name, most_uses, uses, created_at, expires_at, revoked_at } = code;
        Self {
            id: *id,
            watershed: watershed.to_string(),
            name: name.clone(),
            most_uses: *most_uses,
            uses: *uses,
            created_at: *created_at,
            expires_at: *expires_at,
            revoked_at: *revoked_at,
        }
    }
}

/// A join code just made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NewJoinCodeDocument {
    /// The code as listed later.
    #[serde(flatten)]
    pub listed: JoinCodeDocument,
    /// What members type, shown this once and kept nowhere.
    #[schema(example = "7Q4M-ZK2T-9HWD-X0RB")]
    pub code: String,
}

/// A wish for a join code.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct JoinCodeInput {
    /// Whom it is for.
    #[garde(required, length(chars, min = 1, max = 100))]
    #[schema(value_type = String, min_length = 1, max_length = 100, example = "Spring meeting")]
    pub name: Option<String>,
    /// How many may use it, 10 when left out.
    #[serde(deserialize_with = "optional_u32")]
    #[garde(range(min = 1, max = 200))]
    #[schema(minimum = 1, maximum = 200, example = 10)]
    pub most_uses: Option<u32>,
    /// Days until it ends, 14 when left out.
    #[serde(deserialize_with = "optional_u32")]
    #[garde(range(min = 1, max = 60))]
    #[schema(minimum = 1, maximum = 60, example = 14)]
    pub days: Option<u32>,
}

/// A checked wish for a join code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JoinCodeWish {
    /// Whom it is for.
    pub name: String,
    /// How many may use it.
    pub most_uses: u32,
    /// Days until it ends.
    pub days: u32,
}

impl Input for JoinCodeInput {
    type Domain = JoinCodeWish;

    fn into_domain(self, _: &mut Faults) -> Option<JoinCodeWish> {
        Some(JoinCodeWish { name: self.name?, most_uses: self.most_uses.unwrap_or(10), days: self.days.unwrap_or(14) })
    }
}

/// A join code on its way to become a token.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct JoinInput {
    /// Made by the client: the id that the token will have. The same id with the same code is answered again, with
    /// another secret, as long as the first was not used: an answer that was lost on the way costs no second use.
    #[serde(deserialize_with = "optional_uuid")]
    #[garde(required)]
    #[schema(value_type = Uuid, example = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10")]
    pub id: Option<Uuid>,
    /// The code, in capitals or not, with hyphens or spaces or without.
    #[garde(required, length(chars, min = 1, max = 100))]
    #[schema(value_type = String, min_length = 1, max_length = 100, example = "7Q4M-ZK2T-9HWD-X0RB")]
    pub code: Option<String>,
    /// The member's name or nickname, which the keepers see.
    #[garde(required, length(chars, min = 1, max = 100))]
    #[schema(value_type = String, min_length = 1, max_length = 100, example = "Robin")]
    pub name: Option<String>,
}

/// A checked join.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Join {
    /// The id that the token will have.
    pub id: Uuid,
    /// The code as typed.
    pub code: String,
    /// The member's name.
    pub name: String,
}

impl Input for JoinInput {
    type Domain = Join;

    fn into_domain(self, faults: &mut Faults) -> Option<Join> {
        let name = self.name?.trim().to_owned();
        if name.is_empty() {
            faults.add("#/name", "missing", "is required");
        }
        Some(Join { id: self.id?, code: self.code?, name })
    }
}
