//! Codes that members exchange for a token of their own.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::Slug;

/// A code as stored; the code itself is never kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JoinCode {
    /// Identifier used to list and revoke.
    pub id: Uuid,
    /// The watershed it lets into.
    pub watershed: Slug,
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
    pub revoked_at: Option<DateTime<Utc>>,
}

impl JoinCode {
    /// True when it lets somebody in at `now`.
    #[must_use]
    pub fn holds(&self, now: DateTime<Utc>) -> bool {
        self.revoked_at.is_none() && self.expires_at > now && self.uses < self.most_uses
    }
}
