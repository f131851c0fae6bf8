//! How requests are made.

use std::time::Duration;

use reqwest::Url;

use crate::domain::Secret;

/// The host of the address `base`, in small letters as in requests; `None` when it is no address.
#[must_use]
pub fn host_of_base(base: &str) -> Option<String> {
    Url::parse(base).ok()?.host_str().map(str::to_ascii_lowercase)
}

/// A key that one host gave us; it is sent nowhere else.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ApiKey {
    /// The host.
    pub host: String,
    /// The header it goes into.
    pub header: &'static str,
    /// The key.
    pub value: Secret,
}

impl ApiKey {
    /// A key for the host of `base`; `None` when there is no key, or `base` is no address.
    #[must_use]
    pub fn of(base: &str, header: &'static str, value: Secret) -> Option<Self> {
        let host = host_of_base(base)?;
        (!value.is_empty()).then_some(Self { host, header, value })
    }
}

/// How we name ourselves.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UserAgent {
    /// An address of the operator, to be written to when something goes wrong; empty when there is none.
    pub contact: String,
}

impl UserAgent {
    /// The header.
    #[must_use]
    pub fn header(&self) -> String {
        let program = concat!("Subimago/", env!("CARGO_PKG_VERSION"));
        match self.contact.as_str() {
            "" => program.to_owned(),
            contact => format!("{program} ({contact})"),
        }
    }
}

/// Most bytes of an answer: ten thousand readings of one service, or a year by the hour of another,
/// have some eight million.
const MOST_BODY_BYTES: usize = 16 * 1024 * 1024;

/// Limits of a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Longest time until a connection stands.
    pub connect: Duration,
    /// Longest time of one try with its body.
    pub total: Duration,
    /// Most bytes of a body, unpacked. A body is held whole while it is read, and what is read from it takes up to some
    /// ten times as much.
    pub body_bytes: usize,
    /// Most redirects.
    pub redirects: u32,
    /// Most tries.
    pub tries: u32,
    /// First pause between tries; doubled each time.
    pub first_pause: Duration,
    /// Longest pause that is waited; when a service asks for more it is left for another time.
    pub longest_pause: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connect: Duration::from_secs(10),
            total: Duration::from_mins(1),
            body_bytes: MOST_BODY_BYTES,
            redirects: 3,
            tries: 4,
            first_pause: Duration::from_secs(1),
            longest_pause: Duration::from_mins(2),
        }
    }
}
