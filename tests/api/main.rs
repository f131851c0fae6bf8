//! The service as its clients meet it: through the router, on both databases.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    clippy::type_complexity,
    reason = "a test stops at the first surprise, says what it measured, and is read once"
)]
#![expect(clippy::expect_used, clippy::panic, reason = "a test that cannot go on stops")]

mod caching;
mod calendar;
mod confirmed;
mod desk;
mod desk_gauges;
mod desk_places;
mod desk_telling;
mod desk_work;
mod documents;
mod embed;
mod envelope;
mod errors;
mod evening;
mod feeds;
mod forecasts;
mod generated_feeds;
mod geography;
mod guidance;
mod hidden_places;
mod imports;
mod joining;
mod kept;
mod languages;
mod lint;
mod moderation;
mod more_pages;
mod names;
mod negotiation;
mod notices;
mod once;
mod openapi;
mod overtaken;
mod pages;
mod paging;
mod past_seasons;
mod photos;
mod place_changes;
mod places;
mod quantities;
mod rates;
mod refused_readers;
mod report_form;
mod reports;
mod republishing;
mod scopes;
mod seen;
mod serving;
mod sources;
mod subscription;
mod support;
mod tables;
mod tidying;
mod tokens;
mod units;
mod water;
mod wording;
