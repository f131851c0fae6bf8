//! Runner of long work: claims jobs from the table, runs them, keeps their leases alive; and the
//! daily publication.

mod daily;
mod runner;

pub use daily::publish_daily;
pub use runner::{Notify, Runner};
