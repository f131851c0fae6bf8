//! The service as its clients meet it: through the router, on both databases.

#![expect(clippy::expect_used, clippy::panic, reason = "a test that cannot go on stops")]

mod caching;
mod calendar;
mod documents;
mod envelope;
mod errors;
mod forecasts;
mod lint;
mod openapi;
mod pages;
mod paging;
mod places;
mod reports;
mod scopes;
mod serving;
mod support;
mod tokens;
mod water;
