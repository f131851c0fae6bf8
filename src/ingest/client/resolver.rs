//! From names to public addresses.

use std::fmt;
use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::Arc;

use reqwest::dns::{Addrs, Name, Resolve, Resolving};
use thiserror::Error;

use super::address::not_public;

/// A look-up under way.
pub type Looking = Pin<Box<dyn Future<Output = io::Result<Vec<IpAddr>>> + Send>>;

/// Looks names up.
pub trait Lookup: Send + Sync + fmt::Debug {
    /// All addresses of `host`.
    fn lookup(&self, host: String) -> Looking;
}

/// The machine's own look-up.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemLookup;

impl Lookup for SystemLookup {
    fn lookup(&self, host: String) -> Looking {
        Box::pin(async move { Ok(tokio::net::lookup_host((host, 0)).await?.map(|found| found.ip()).collect()) })
    }
}

/// A name that leads to where we do not go.
#[derive(Debug, Error)]
#[error("{host} leads to {address} ({words})")]
pub(super) struct LeadsAside {
    host: String,
    address: IpAddr,
    words: &'static str,
}

/// Gives the addresses that a connection is then made to: what is checked here is what is used, so a name
/// that answers otherwise the next time gains nothing.
#[derive(Debug, Clone)]
pub(super) struct PublicOnly {
    pub(super) lookup: Arc<dyn Lookup>,
    /// Address of a server of a test.
    pub(super) test: Option<IpAddr>,
}

impl Resolve for PublicOnly {
    fn resolve(&self, name: Name) -> Resolving {
        let (lookup, test, host) = (Arc::clone(&self.lookup), self.test, name.as_str().to_owned());
        Box::pin(async move {
            let found = lookup.lookup(host.clone()).await?;
            for address in &found {
                if let Some(words) = not_public(*address).filter(|_| Some(*address) != test) {
                    return Err(LeadsAside { host, address: *address, words }.into());
                }
            }
            let addresses: Addrs = Box::new(found.into_iter().map(|address| SocketAddr::new(address, 0)));
            Ok(addresses)
        })
    }
}
