//! Who is given the feeds of a watershed.

use chrono::{DateTime, Utc};
use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use super::{Faults, Input};
use crate::store::feed_address::FeedAddress;

/// How the calendar and the news of a watershed are given.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct FeedsDocument {
    /// True when they are given under secret addresses alone.
    pub private: bool,
    /// The secret addresses, oldest first, revoked ones included; never their keys.
    pub addresses: Vec<FeedAddressDocument>,
}

/// A secret address as listed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct FeedAddressDocument {
    /// Identifier used to revoke it.
    pub id: Uuid,
    /// Who or what it is for.
    pub name: String,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it was revoked.
    #[schema(required)]
    pub revoked_at: Option<DateTime<Utc>>,
}

impl From<&FeedAddress> for FeedAddressDocument {
    fn from(address: &FeedAddress) -> Self {
        let FeedAddress { id, name, created_at, revoked_at, .. } = address;
        Self { id: *id, name: name.clone(), created_at: *created_at, revoked_at: *revoked_at }
    }
}

/// A secret address just made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NewFeedAddressDocument {
    /// The address as listed later.
    #[serde(flatten)]
    pub address: FeedAddressDocument,
    /// Path of the calendar, which opens by itself; shown this once and kept nowhere.
    #[schema(example = "/calendars/feed_<49 letters and digits>/ostrey.ics")]
    pub calendar: String,
    /// Path of the news (Atom), under the same key.
    #[schema(example = "/feeds/feed_<49 letters and digits>/ostrey.atom")]
    pub news: String,
}

/// How feeds are to be given.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct FeedsInput {
    /// True to give them under secret addresses alone.
    #[garde(required)]
    #[schema(value_type = bool, example = true)]
    pub private: Option<bool>,
}

impl Input for FeedsInput {
    type Domain = bool;

    fn into_domain(self, _: &mut Faults) -> Option<bool> {
        self.private
    }
}

/// A wish for a secret address.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct FeedAddressInput {
    /// Who or what it is for.
    #[garde(required, length(chars, min = 1, max = 100))]
    #[schema(value_type = String, min_length = 1, max_length = 100, example = "Committee")]
    pub name: Option<String>,
}

impl Input for FeedAddressInput {
    type Domain = String;

    fn into_domain(self, _: &mut Faults) -> Option<String> {
        self.name
    }
}
