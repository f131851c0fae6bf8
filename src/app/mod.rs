//! Use cases: what the service can do, one file per verb.

pub mod cautions;
pub mod database;
pub mod demo;
pub mod document;
pub mod fit;
pub mod forecast;
pub mod observations;
pub mod publish;
pub mod water;
