//! Why nothing was fetched.

use chrono::{DateTime, Utc};
use thiserror::Error;

/// Why nothing was fetched.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum FetchFault {
    /// The address may not be asked.
    #[error("{url} may not be asked: {reason}")]
    NotAllowed {
        /// The address, without what stands after the question mark.
        url: String,
        /// Why.
        reason: String,
    },
    /// The service wants to know whom to write to.
    #[error("{host} demands a contact; set sources.contact to an e-mail address or a web page of yours")]
    NoContact {
        /// The service.
        host: String,
    },
    /// No answer, or one that broke off, each time it was tried.
    #[error("{host} did not answer ({attempts} tries): {why}")]
    NoAnswer {
        /// The service.
        host: String,
        /// How often it was tried.
        attempts: u32,
        /// The last failure.
        why: String,
    },
    /// An answer that says no.
    #[error("{host} answered {status}: {words}")]
    Status {
        /// The service.
        host: String,
        /// The status.
        status: u16,
        /// Its words.
        words: String,
    },
    /// The service asks to be left alone for longer than is waited here, or did not answer lately.
    #[error("{host} is left alone until {}", until.format("%Y-%m-%d %H:%M UTC"))]
    Later {
        /// The service.
        host: String,
        /// Until when.
        until: DateTime<Utc>,
    },
    /// More than is taken.
    #[error("{host} sends more than {limit_bytes} bytes")]
    TooLarge {
        /// The service.
        host: String,
        /// The limit.
        limit_bytes: usize,
    },
    /// Redirected in circles.
    #[error("{host} redirects more than {most} times")]
    Redirects {
        /// The service that was asked first.
        host: String,
        /// The limit.
        most: u32,
    },
    /// The client cannot be made.
    #[error("requests cannot be made here: {0}")]
    Setup(String),
}
