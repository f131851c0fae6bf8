//! The time of day as an argument.

use chrono::{DateTime, Utc};

/// Tells the time. Handed down from the edges so that tests and hindcasts can choose it.
pub trait Clock: Send + Sync + std::fmt::Debug {
    /// The present instant.
    fn now(&self) -> DateTime<Utc>;
}

/// The machine's clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    #[expect(clippy::disallowed_methods, reason = "the one place that reads the machine's clock")]
    fn now(&self) -> DateTime<Utc> {
        Utc::now()
    }
}

/// A clock that stands still.
#[derive(Debug, Clone, Copy)]
pub struct FixedClock(pub DateTime<Utc>);

impl Clock for FixedClock {
    fn now(&self) -> DateTime<Utc> {
        self.0
    }
}
