//! Which addresses may be asked.

use std::net::{Ipv4Addr, SocketAddr};

use reqwest::Url;

use super::fault::FetchFault;

/// Longest address that is sent, bytes.
const LONGEST_URL: usize = 8000;

/// A server on this machine that tests ask instead of services. No setting makes one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TestServer {
    /// Where it listens.
    pub address: SocketAddr,
    /// Names under which it may be asked besides its address.
    pub names: Vec<String>,
}

impl TestServer {
    fn is(&self, url: &Url) -> bool {
        let host = url.host_str().unwrap_or_default();
        let named = host == self.address.ip().to_string() || self.names.iter().any(|name| name == host);
        url.scheme() == "http" && url.port() == Some(self.address.port()) && named
    }
}

/// Which addresses may be asked.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Policy {
    hosts: Vec<String>,
    pub(super) test: Option<TestServer>,
}

impl Policy {
    /// Only `hosts`, by HTTPS.
    #[must_use]
    pub fn of(hosts: impl IntoIterator<Item = String>) -> Self {
        Self { hosts: hosts.into_iter().map(|host| host.to_ascii_lowercase()).collect(), test: None }
    }

    /// Also a server of a test.
    #[must_use]
    pub fn with_test_server(self, server: TestServer) -> Self {
        Self { test: Some(server), ..self }
    }

    /// The address, if it may be asked.
    ///
    /// # Errors
    /// [`FetchFault::NotAllowed`].
    pub fn check(&self, url: &str) -> Result<Url, FetchFault> {
        let refuse = |reason: &str| {
            let shown = url.split(['?', '#']).next().unwrap_or_default();
            // What stands before an at sign may be a password.
            let shown = shown.rsplit_once('@').map_or(shown, |(_, place)| place);
            let url = shown.chars().filter(|c| !c.is_control()).take(200).collect();
            Err(FetchFault::NotAllowed { url, reason: reason.to_owned() })
        };
        if url.len() > LONGEST_URL {
            return refuse("it is too long");
        }
        let Ok(parsed) = Url::parse(url) else { return refuse("it is no address") };
        if !parsed.username().is_empty() || parsed.password().is_some() {
            return refuse("it names a user");
        }
        if self.test.as_ref().is_some_and(|server| server.is(&parsed)) {
            return Ok(parsed);
        }
        if parsed.scheme() != "https" {
            return refuse("only https is used");
        }
        if parsed.port_or_known_default() != Some(443) {
            return refuse("only port 443 is used");
        }
        let host = parsed.host_str().unwrap_or_default();
        // Number forms such as 0x7f.1 are read as addresses by then.
        if host.starts_with('[') || host.parse::<Ipv4Addr>().is_ok() {
            return refuse("it has a number in place of a name");
        }
        if !self.hosts.iter().any(|known| known == host) {
            return refuse("the host is not on the list of sources (sources.hosts)");
        }
        Ok(parsed)
    }
}
