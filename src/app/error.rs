//! What can go wrong in a use case.

use thiserror::Error;

use super::document::Faults;
use crate::store::StoreError;

/// Why a use case refused or failed.
#[derive(Debug, Error)]
pub enum AppError {
    /// Nothing with that name, or nothing the caller may see.
    #[error("{what} not found")]
    NotFound {
        /// What was looked for, for example `reach`.
        what: &'static str,
    },
    /// The document sent breaks rules.
    #[error("the document has {} faults", .0.len())]
    Faults(Faults),
    /// The question's parameters break rules.
    #[error("the question has {} faults", .0.len())]
    Query(Faults),
    /// No token, or one that is unknown, expired or revoked.
    #[error("no valid token")]
    Unauthenticated,
    /// The token does not allow this.
    #[error("{detail}")]
    Forbidden {
        /// What would be needed.
        detail: &'static str,
    },
    /// The request contradicts what is stored.
    #[error("{detail}")]
    Conflict {
        /// In words.
        detail: String,
    },
    /// An Idempotency-Key came back with another body.
    #[error("This Idempotency-Key was used with another body.")]
    KeyReused,
    /// The same request is being worked on.
    #[error("The same request is being worked on just now.")]
    Twin {
        /// Seconds until it may be tried again.
        retry_after_s: u64,
    },
    /// The entity changed since the caller read it.
    #[error("The stored version differs from the one in If-Match.")]
    PreconditionFailed,
    /// A change without If-Match.
    #[error("If-Match with the entity tag of the version you read is required.")]
    PreconditionRequired,
    /// A file that is none of the pictures that are read.
    #[error("The file is not a JPEG, PNG or WebP picture.")]
    UnknownPicture,
    /// A picture as phones keep it, for which there is no decoder here.
    #[error("The file is a HEIC or AVIF picture, which is not read here: save it as JPEG and send that.")]
    HeifPicture,
    /// More than is allowed in the time.
    #[error("{detail}")]
    TooMany {
        /// In words.
        detail: &'static str,
        /// Seconds until it may be tried again.
        retry_after_s: u64,
    },
    /// Cannot be answered now.
    #[error("{detail}")]
    Unavailable {
        /// In words.
        detail: &'static str,
        /// Seconds until it may be tried again.
        retry_after_s: u64,
    },
    /// The database.
    #[error("database access failed")]
    Store(#[from] StoreError),
    /// A broken promise inside the service.
    #[error("internal fault: {0}")]
    Internal(String),
}

impl AppError {
    /// Nothing called that.
    #[must_use]
    pub fn not_found(what: &'static str) -> Self {
        Self::NotFound { what }
    }

    /// One fault in the body.
    pub fn fault(pointer: impl Into<String>, code: &'static str, detail: impl Into<String>) -> Self {
        Self::Faults(Faults::one(pointer, code, detail))
    }
}

/// A failure that passes by itself or with a little help. What was sent is not stored and may be sent again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trouble {
    /// The database has no time.
    DatabaseBusy,
    /// The disk has no room.
    DiskFull,
    /// The database does not answer.
    DatabaseSilent,
}

impl AppError {
    /// Whether, and how, the failure passes.
    #[must_use]
    pub fn passing_trouble(&self) -> Option<Trouble> {
        let Self::Store(store) = self else { return None };
        match store {
            StoreError::Busy(_) => Some(Trouble::DatabaseBusy),
            StoreError::Full(_) => Some(Trouble::DiskFull),
            StoreError::Unreachable(_) => Some(Trouble::DatabaseSilent),
            _ => None,
        }
    }
}
