//! What can go wrong in the store.

use thiserror::Error;
use uuid::Uuid;

/// A failure of the store. `Display` does not repeat its source.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum StoreError {
    /// The database refused or could not be reached.
    #[error("the database failed")]
    Database(#[source] sqlx::Error),
    /// All connections stayed taken, or another writer held the file, for longer than we wait.
    #[error("the database is busy")]
    Busy(#[source] sqlx::Error),
    /// The disk is full; what was being written was rolled back.
    #[error("the disk of the database is full")]
    Full(#[source] sqlx::Error),
    /// The database cannot be reached just now.
    #[error("the database cannot be reached")]
    Unreachable(#[source] sqlx::Error),
    /// A row of that key is there already, or is still referred to, or has changed since it was read.
    #[error("{what} conflicts with what is stored")]
    Conflict {
        /// The row or rule in words, for example `report` or a constraint's name.
        what: String,
    },
    /// A slug or identifier that nothing of its kind bears.
    #[error("there is no {what} {slug:?}")]
    UnknownReference {
        /// `watershed`, `reach`, `gauge`, `taxon`, `token`, `report`, `fit`, `job`.
        what: &'static str,
        /// The slug or identifier as given.
        slug: String,
    },
    /// A worker whose lease went to another tried to write.
    #[error("the lease of job {job} is lost")]
    LeaseLost {
        /// The job.
        job: Uuid,
    },
    /// A value that neither database keeps faithfully: text with a NUL character, or not a number.
    #[error("cannot be stored: {reason}")]
    Unstorable {
        /// Why.
        reason: &'static str,
    },
    /// A stored value that breaks a rule of the domain.
    #[error("stored value of {table}.{column} in row {row:?} is damaged: {reason}")]
    Corrupt {
        /// Table.
        table: &'static str,
        /// Column.
        column: &'static str,
        /// The row's first selected value as text.
        row: String,
        /// What is wrong.
        reason: String,
    },
    /// A database address that is neither `sqlite://path` nor `postgres://...`.
    #[error("not a database address: {reason}")]
    Address {
        /// Why; never repeats the address, which may hold a password.
        reason: String,
    },
    /// A SQLite with a known fault that can lose committed rows.
    #[error("SQLite {found} is too old, {needed} or newer is needed")]
    TooOld {
        /// Version linked.
        found: String,
        /// Version needed.
        needed: &'static str,
    },
    /// The database was migrated by a newer program.
    #[error("the database has schema {found}, this program knows schemas up to {known}: use a newer program")]
    NewerSchema {
        /// Highest migration applied.
        found: i64,
        /// Highest migration known.
        known: i64,
    },
    /// A migration failed.
    #[error("a migration failed")]
    Migrate(#[source] sqlx::migrate::MigrateError),
    /// Something only the other kind of database can do.
    #[error("{what} is not possible on {database}")]
    Unsupported {
        /// The operation.
        what: &'static str,
        /// `SQLite` or `PostgreSQL`.
        database: &'static str,
    },
}

impl StoreError {
    /// An [`StoreError::UnknownReference`].
    pub(crate) fn unknown(what: &'static str, slug: &impl ToString) -> Self {
        Self::UnknownReference { what, slug: slug.to_string() }
    }

    /// A [`StoreError::Conflict`].
    pub(crate) fn conflict(what: impl Into<String>) -> Self {
        Self::Conflict { what: what.into() }
    }
}

/// SQLite's primary codes for a lock held by another.
const SQLITE_BUSY_OR_LOCKED: [i64; 2] = [5, 6];
/// SQLite's primary code for a full disk.
const SQLITE_FULL: i64 = 13;
/// PostgreSQL's code for a full disk.
const POSTGRES_DISK_FULL: &str = "53100";
/// PostgreSQL's beginnings of codes for a server that is going, coming, or has no connection left.
const POSTGRES_AWAY: [&str; 3] = ["08", "57P0", "53300"];

impl From<sqlx::Error> for StoreError {
    fn from(error: sqlx::Error) -> Self {
        use sqlx::Error as E;
        match &error {
            E::PoolTimedOut => Self::Busy(error),
            E::Io(_) | E::Tls(_) | E::Protocol(_) | E::PoolClosed | E::WorkerCrashed => Self::Unreachable(error),
            E::Database(fault) if fault.is_unique_violation() || fault.is_foreign_key_violation() => {
                Self::Conflict { what: fault.constraint().map_or_else(|| fault.message().to_owned(), str::to_owned) }
            }
            E::Database(fault) => {
                let code = fault.code().unwrap_or_default();
                if fault.try_downcast_ref::<sqlx::sqlite::SqliteError>().is_some() {
                    // The bits above the lowest eight tell finer causes of the same fault.
                    match code.parse::<i64>().map(|code| code & 0xff) {
                        Ok(primary) if SQLITE_BUSY_OR_LOCKED.contains(&primary) => Self::Busy(error),
                        Ok(SQLITE_FULL) => Self::Full(error),
                        _ => Self::Database(error),
                    }
                } else if code == POSTGRES_DISK_FULL {
                    Self::Full(error)
                } else if POSTGRES_AWAY.iter().any(|start| code.starts_with(start)) {
                    Self::Unreachable(error)
                } else {
                    Self::Database(error)
                }
            }
            _ => Self::Database(error),
        }
    }
}
