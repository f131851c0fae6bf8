//! Use cases: what the service can do, one file per verb.

pub mod access;
pub mod document;
pub mod error;
pub mod feed;
pub mod forecasts;
pub mod jobs;
pub mod place;
pub mod publish;
pub mod reading;
pub mod report;
pub mod service;
pub mod snapshot;
pub mod token;

pub use error::AppError;
pub use service::{FittingProgress, Service, ServiceBuilder};
pub use snapshot::{Snapshot, WatershedView};
