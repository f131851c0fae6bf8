//! The only SQL: one text for SQLite and PostgreSQL.
//!
//! [`Db`] holds the pools, [`Tx`] is one connection in a transaction, and every store function is
//! `async fn verb(tx: &mut Tx, ...) -> Result<_, StoreError>` in domain types, one file per group
//! of tables. After an error drop the [`Tx`]; that rolls it back.
//!
//! Instants are kept to the microsecond; anything finer is cut off on the way in.

pub mod air;
mod arg;
mod db;
pub mod desk_session;
mod dialect;
pub mod erase;
mod error;
pub mod feed;
pub mod feed_address;
pub mod fit;
pub mod forecast;
pub mod idempotency;
pub mod import_part;
pub mod job;
mod job_lease;
pub mod join_code;
mod keys;
pub mod maintenance;
pub mod meta;
pub mod notice;
pub mod observed;
pub mod place;
mod place_reach;
pub mod reading;
mod reading_put;
pub mod record;
mod record_row;
pub mod record_source;
pub mod report;
mod report_document;
mod report_history;
mod report_list;
mod report_parts;
pub mod report_photo;
mod row;
mod since;
pub mod skill;
pub mod sync;
pub mod taxon;
mod taxon_row;
pub mod token;
mod token_bind;
mod tx;
mod wake;

pub use db::{Db, SchemaState};
pub use error::StoreError;
pub use tx::Tx;
pub use wake::Listener;

/// What an upsert did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Upsert {
    /// There was none of that slug.
    Created,
    /// Something differed and was replaced.
    Updated,
    /// Everything was so already.
    Unchanged,
}

/// What a bulk write did; the three add up to the rows given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Rows under a new key.
    pub created: u64,
    /// Rows that became a new version of a known key.
    pub updated: u64,
    /// Rows that said what was known already.
    pub unchanged: u64,
}

impl Counts {
    /// Counts one row.
    pub fn add(&mut self, upsert: Upsert) {
        match upsert {
            Upsert::Created => self.created += 1,
            Upsert::Updated => self.updated += 1,
            Upsert::Unchanged => self.unchanged += 1,
        }
    }

    /// Rows counted in all.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.created + self.updated + self.unchanged
    }
}

/// From and to, both included; an open end does not limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span<T> {
    /// First included.
    pub from: Option<T>,
    /// Last included.
    pub to: Option<T>,
}

impl<T> Span<T> {
    /// No limit on either side.
    #[must_use]
    pub const fn all() -> Self {
        Self { from: None, to: None }
    }
}
