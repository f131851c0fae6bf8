//! Access tokens: who may do what where.

use chrono::{DateTime, NaiveDate, Utc};
use uuid::Uuid;

use super::place::{word_for, word_of};
use super::{Invalid, Slug};

/// What a token's holder may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// Files reports.
    Member,
    /// Also manages the watersheds it is bound to.
    Keeper,
}

impl Role {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 2] = [(Self::Member, "member"), (Self::Keeper, "keeper")];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "role", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// A token as stored; the secret itself is never kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Token {
    /// Identifier used to list and revoke.
    pub id: Uuid,
    /// Who or what it is for.
    pub name: String,
    /// Role.
    pub role: Role,
    /// Watersheds it is bound to; never empty.
    pub watersheds: Vec<Slug>,
    /// When it was made.
    pub created_at: DateTime<Utc>,
    /// When it ends.
    pub expires_at: DateTime<Utc>,
    /// When it was revoked.
    pub revoked_at: Option<DateTime<Utc>>,
    /// Day of last use, no finer.
    pub last_used_date: Option<NaiveDate>,
}
