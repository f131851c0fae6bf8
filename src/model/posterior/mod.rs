//! The joint posterior of one taxon and brood on one clock: data, parameters, priors, objective.

pub mod data;
mod hessian;
pub mod layout;
mod local;
pub mod objective;
pub mod priors;

pub use data::{Dataset, Hours, Observation, Outcome, Protocol, Unit, WHOLE_SEASON};
pub use layout::Layout;
pub use objective::{Objective, Workspace};
pub use priors::{Prior, Priors};
