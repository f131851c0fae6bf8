//! Subimago forecasts the emergence of mayflies and other aquatic insects.
//!
//! The map, outermost last. An arrow reads "knows":
//!
//! | layer | holds | knows |
//! |---|---|---|
//! | [`domain`] | plain types with checked constructors | nobody |
//! | [`model`] | pure mathematics: clocks, likelihood, fits, draws | `domain` |
//! | [`store`] | the only SQL | `domain` |
//! | [`ingest`] | outside bytes to domain values | `domain` |
//! | [`words`] | what people read, in every language | nobody |
//! | [`app`] | use cases and transactions, the snapshot that is served | the five above |
//! | [`jobs`], [`http`], [`cli`] | edges | `app` |
//!
//! [`clock`] and [`config`] are handed down from the edges; nothing reads the time or the
//! environment by itself. `tests/house` holds the directions.

pub mod app;
pub mod cli;
pub mod clock;
pub mod config;
pub mod domain;
pub mod http;
pub mod ingest;
pub mod jobs;
pub mod model;
pub mod store;
pub mod telemetry;
pub mod words;
