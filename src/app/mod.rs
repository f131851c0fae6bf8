//! Use cases: what the service can do, one file per verb.

pub mod access;
pub mod cautions;
pub mod database;
pub mod demo;
pub mod digest;
pub mod document;
pub mod due;
pub mod error;
pub mod feed;
pub mod fit;
pub mod forecast;
pub mod forecasts;
pub mod hindcast;
pub mod import;
mod import_doubts;
mod import_file;
mod import_quality;
pub mod jobs;
pub mod observations;
pub mod operator;
pub mod place;
pub mod publish;
pub mod publish_season;
pub mod reading;
pub mod report;
pub mod service;
pub mod setup;
pub mod snapshot;
pub mod token;
pub mod water;
pub mod work;

pub use crate::store::{Db, StoreError};
pub use error::AppError;
pub use service::{FittingProgress, Service, ServiceBuilder};
pub use snapshot::{Snapshot, WatershedView};
