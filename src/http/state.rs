//! What every handler can reach.

use std::net::IpAddr;
use std::sync::Arc;

use super::limits::{FailureLimiter, WriteLimiter};
use crate::app::Service;

/// Settings of the edge.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Address under which the service is reached, without a slash at the end. Links in feeds and
    /// problem types start with it.
    pub public_url: String,
    /// Proxies whose `X-Forwarded-For` is believed.
    pub trusted_proxies: Vec<IpAddr>,
    /// Origins whose pages may send reports from a browser.
    pub write_origins: Vec<String>,
    /// Sites that may show the embed in a frame, as `frame-ancestors` lists them.
    pub embed_hosts: Vec<String>,
    /// Longest time a request may take, seconds.
    pub handler_timeout_s: u64,
    /// Writes a token may make in a minute.
    pub writes_per_minute: u32,
    /// Writes a token may make in a day.
    pub writes_per_day: u32,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            public_url: "http://127.0.0.1:8080".to_owned(),
            trusted_proxies: Vec::new(),
            write_origins: Vec::new(),
            embed_hosts: Vec::new(),
            handler_timeout_s: 30,
            writes_per_minute: 1200,
            writes_per_day: 50_000,
        }
    }
}

/// Shared state of all handlers.
#[derive(Debug, Clone)]
pub struct AppState {
    /// Use cases, database, snapshot and clock.
    pub service: Service,
    /// Settings.
    pub settings: Arc<Settings>,
    /// Wrong tokens per address.
    pub failures: Arc<FailureLimiter>,
    /// Writes per token.
    pub writes: Arc<WriteLimiter>,
}

impl AppState {
    /// State around `service`.
    #[must_use]
    pub fn new(service: Service, settings: Settings) -> Self {
        let writes = Arc::new(WriteLimiter::new(settings.writes_per_minute, settings.writes_per_day));
        Self { service, settings: Arc::new(settings), failures: Arc::default(), writes }
    }

    /// Absolute address of `path`.
    pub(crate) fn url(&self, path: &str) -> String {
        format!("{}{path}", self.settings.public_url)
    }
}
