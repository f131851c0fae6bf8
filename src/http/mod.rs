//! Routes, pages and feeds.

mod api;
mod docs;
mod envelope;
mod extract;
mod feed;
mod limits;
mod negotiate;
mod occurrence;
mod ogc;
mod pages;
mod paging;
mod policy;
mod problem;
mod query;
mod respond;
mod router;
mod serve;
mod state;
mod upload;

pub use extract::Peer;
pub use limits::{FailureLimiter, WriteLimiter};
pub use pages::digest_of as digest;
pub use router::{openapi, openapi_text, router, router_with};
pub use serve::serve;
pub use state::{AppState, Settings};
