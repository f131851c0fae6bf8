//! Water temperatures as open services send them: bytes to checked values, apart from fetching.
//!
//! One file per form. Each has `page(bytes, asked)`: what can be used, what was refused and why, and
//! where the next page lies. A value in a page is a possible temperature in degrees Celsius at a time
//! that is not in the future; whatever is not so is counted and never passed on.

pub mod address;
pub mod hubeau;
mod page;
pub mod sensorthings;
pub mod series;
pub mod smhi;
pub mod usgs;
pub mod usgs_legacy;
pub mod usgs_rdb;
pub(super) mod value;

pub use page::{Asked, Measured, Page, PageFault, Refused, Statistic, When, Why, settle};
