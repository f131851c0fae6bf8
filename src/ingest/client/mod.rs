//! Fetching from open services: politely, and from nowhere else.
//!
//! A request goes only to a named host on the operator's list, by HTTPS on its own port, and only to
//! public addresses, however a name resolves and wherever an answer redirects. Answers are limited in
//! size and time. The pace follows what services ask for.

pub mod address;
mod fault;
mod fetch;
mod headers;
mod pace;
mod policy;
mod resolver;
mod settings;

pub use fault::FetchFault;
pub use fetch::{Client, Fetched, Fresh, Validators};
pub use pace::Pace;
pub use policy::{Policy, TestServer};
pub use resolver::{Looking, Lookup, SystemLookup};
pub use settings::{ApiKey, Limits, UserAgent, host_of_base};
