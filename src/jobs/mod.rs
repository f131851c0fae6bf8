//! Runner of long work: claims jobs from the table, runs them, keeps their leases alive; and the
//! daily publication and regular fetching.

mod daily;
mod regular_sync;
mod runner;

pub use daily::publish_daily;
pub use regular_sync::sync_regularly;
pub use runner::{Notify, Runner};
