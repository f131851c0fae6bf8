//! Water temperatures and forecasts of the air that arrive by themselves: what the sources of gauges have to say since the last time.

mod ask;
mod gauge;
mod keep;
mod pace;
mod run;
mod weather;

use std::sync::Arc;
use std::time::Duration;

use super::AppError;
use super::document::sync::{GaugeSyncDocument, SyncDocument};
use crate::clock::Clock;
use crate::domain::source::Source;
use crate::domain::{Secret, Slug};
use crate::ingest::client::{ApiKey, Client, Limits, Policy, SystemLookup, UserAgent, host_of_base};
use crate::store::{Db, place};

pub use crate::ingest::client::FetchFault;
pub use pace::ClockPace;

/// Longest time that one gauge is fetched for at once.
const LONGEST: Duration = Duration::from_mins(30);

/// How open services are asked.
#[derive(Debug, Clone)]
pub struct SourceOptions {
    /// An address of the operator; empty when there is none.
    pub contact: String,
    /// Base address of USGS water data, with its version.
    pub usgs_url: String,
    /// Key for it; empty without one.
    pub usgs_key: Secret,
    /// Base address of Hub'Eau's temperatures.
    pub hubeau_url: String,
    /// Base address of SMHI's hydrological observations, with its version.
    pub smhi_url: String,
    /// Base address of the United States National Weather Service.
    pub nws_url: String,
    /// Base address of MET Norway's location forecasts, with their version.
    pub met_norway_url: String,
    /// Further hosts that may be asked: those of SensorThings servers.
    pub hosts: Vec<String>,
    /// Years fetched the first time.
    pub history_years: u32,
    /// Days fetched again each time, since services revise.
    pub overlap_days: u32,
}

/// Open services, ready to be asked. Cheap to clone.
#[derive(Debug, Clone)]
pub struct Sources {
    options: Arc<SourceOptions>,
    client: Client,
    longest: Duration,
}

impl Sources {
    /// The services of `options`, and no other host.
    ///
    /// # Errors
    /// [`FetchFault::Setup`] when no client can be made.
    pub fn new(options: SourceOptions, clock: Arc<dyn Clock>) -> Result<Self, FetchFault> {
        let waters = [&options.usgs_url, &options.hubeau_url, &options.smhi_url];
        let bases = waters.into_iter().chain([&options.nws_url, &options.met_norway_url]);
        let hosts = bases.filter_map(|base| host_of_base(base)).chain(options.hosts.iter().cloned());
        let policy = Policy::of(hosts);
        let keys = ApiKey::of(&options.usgs_url, "X-Api-Key", options.usgs_key.clone()).into_iter().collect();
        let agent = UserAgent { contact: options.contact.clone() };
        let pace = Arc::new(ClockPace::new(clock));
        let client = Client::new(policy, agent, keys, Limits::default(), pace, Arc::new(SystemLookup))?;
        Ok(Self::with_client(options, client))
    }

    /// The same with a client made elsewhere.
    #[must_use]
    pub fn with_client(options: SourceOptions, client: Client) -> Self {
        Self { options: Arc::new(options), client, longest: LONGEST }
    }

    /// The same with another limit for one gauge.
    #[must_use]
    pub fn no_longer_than(self, longest: Duration) -> Self {
        Self { longest, ..self }
    }
}

/// Which gauges to fetch for; all when empty.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Only those of this watershed.
    pub watershed: Option<Slug>,
    /// Only those of this name.
    pub gauge: Option<Slug>,
}

/// Fetches for the gauges that are `wanted`, one after the other; `tell` hears of each. One that fails
/// keeps what it has and does not stop the others.
///
/// # Errors
/// [`AppError::NotFound`] when no gauge has the name, [`AppError::Store`].
pub async fn sync(
    db: &Db,
    clock: &dyn Clock,
    sources: &Sources,
    wanted: &Wanted,
    tell: &(dyn Fn(&GaugeSyncDocument) + Send + Sync),
) -> Result<SyncDocument, AppError> {
    let mut tx = db.read().await?;
    let mut all = Vec::new();
    for watershed in place::watersheds(&mut tx).await? {
        if wanted.watershed.as_ref().is_some_and(|only| *only != watershed.slug) {
            continue;
        }
        for gauge in place::gauges(&mut tx, &watershed.slug).await? {
            if wanted.gauge.as_ref().is_none_or(|only| *only == gauge.slug) {
                all.push((watershed.clone(), gauge));
            }
        }
    }
    drop(tx);
    if all.is_empty() && wanted.gauge.is_some() {
        return Err(AppError::not_found("gauge"));
    }
    let mut gauges = Vec::with_capacity(all.len());
    for (watershed, gauge) in &all {
        let done = Box::pin(gauge::sync_gauge(db, clock, sources, watershed, gauge)).await?;
        tell(&done);
        gauges.push(done);
    }
    Ok(SyncDocument { failed: gauges.iter().filter(|gauge| gauge.is_failure()).count(), gauges })
}

/// The source of a gauge's text, if it names a service and can be read.
#[must_use]
pub fn source_of(text: Option<&str>) -> Option<Source> {
    text.and_then(|text| Source::parse(text).ok().flatten())
}
