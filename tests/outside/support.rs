//! What the answering server asks of the tests around it.

use chrono::{DateTime, Utc};

pub(crate) fn at(text: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(text).unwrap().to_utc()
}
