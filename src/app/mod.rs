//! Use cases: what the service can do, one file per verb.

pub mod token;
