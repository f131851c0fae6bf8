//! Runner of long work: claims jobs from the table, runs them, keeps their leases alive; and the
//! daily publication, regular fetching and tidying.

mod daily;
mod regular_sync;
mod runner;
mod tidy;

pub use daily::publish_daily;
pub use regular_sync::sync_regularly;
pub use runner::{Notify, Runner};
pub use tidy::tidy_daily;
