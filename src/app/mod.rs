//! Use cases: what the service can do, one file per verb.

pub mod cautions;
pub mod demo;
pub mod document;
pub mod fit;
pub mod forecast;
pub mod observations;
pub mod publish;
pub mod water;
pub mod work;

pub use crate::store::{Db, StoreError};
