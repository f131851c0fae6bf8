//! One request with its redirects, tries and pauses.

use std::collections::HashMap;
use std::error::Error;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};
use reqwest::header::{ACCEPT, ETAG, HeaderMap, HeaderName, HeaderValue, LOCATION, USER_AGENT};
use reqwest::header::{IF_MODIFIED_SINCE, IF_NONE_MATCH, LAST_MODIFIED};
use reqwest::{Response, StatusCode, Url};

use super::fault::FetchFault;
use super::headers::{fresh_until, retry_after, used_up_until};
use super::pace::{Pace, pause};
use super::policy::Policy;
use super::resolver::{LeadsAside, Lookup, PublicOnly};
use super::settings::{ApiKey, Limits, UserAgent};
use crate::domain::error::chain;
use crate::ingest::temperature::{PageFault, value};

/// Hosts that refuse who does not say whom to write to.
const DEMAND_CONTACT: [&str; 2] = ["api.met.no", "api.weather.gov"];
/// How long a host that does not answer is left alone.
const SILENCE: TimeDelta = TimeDelta::hours(1);
/// Most bytes of a refusal that are read for its words.
const REFUSAL_BYTES: usize = 16 * 1024;

/// What an answer may be asked for again with.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Validators {
    /// `ETag`.
    pub etag: Option<String>,
    /// `Last-Modified`, as sent.
    pub last_modified: Option<String>,
}

/// A new answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fresh {
    /// The body, unpacked.
    pub body: Vec<u8>,
    /// The address that answered, after redirects.
    pub url: String,
    /// For asking again.
    pub validators: Validators,
    /// Until when there is nothing new.
    pub fresh_until: Option<DateTime<Utc>>,
    /// The answer was 203: of some services the sign that they will take this product away.
    pub deprecated: bool,
}

/// What came.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fetched {
    /// A new answer.
    New(Fresh),
    /// Nothing new since the validators.
    Unchanged {
        /// Until when there is nothing new.
        fresh_until: Option<DateTime<Utc>>,
    },
}

/// Fetches. Cheap to clone; clones share what services said about rates.
#[derive(Debug, Clone)]
pub struct Client(Arc<Inner>);

#[derive(Debug)]
struct Inner {
    http: reqwest::Client,
    policy: Policy,
    agent: UserAgent,
    keys: Vec<Key>,
    limits: Limits,
    pace: Arc<dyn Pace>,
    closed_until: Mutex<HashMap<String, DateTime<Utc>>>,
}

/// A key as it is sent, marked so that nothing on its way shows it.
#[derive(Debug)]
struct Key {
    host: String,
    header: HeaderName,
    value: HeaderValue,
}

impl Key {
    fn of(key: ApiKey) -> Result<Self, FetchFault> {
        let ApiKey { mut host, header, value } = key;
        host.make_ascii_lowercase();
        let wrong = || FetchFault::Setup(format!("the key for {host} does not fit into a header"));
        let mut value = HeaderValue::from_str(value.reveal()).map_err(|_| wrong())?;
        value.set_sensitive(true);
        let header = HeaderName::from_bytes(header.as_bytes()).map_err(|_| wrong())?;
        Ok(Self { host, header, value })
    }
}

/// How one try ended short of an answer.
enum Trouble {
    /// No use in trying again.
    Final(FetchFault),
    /// An answer that may pass; the service may have said when.
    Passing { why: String, until: Option<DateTime<Utc>> },
    /// No answer, or one that broke off; may pass.
    Silent { why: String },
}

impl Client {
    /// A client. No proxy of the environment is used, no cookie kept; roots of trust are those of the
    /// Mozilla programme, so that none need be installed.
    ///
    /// # Errors
    /// [`FetchFault::Setup`].
    pub fn new(
        policy: Policy,
        agent: UserAgent,
        keys: Vec<ApiKey>,
        limits: Limits,
        pace: Arc<dyn Pace>,
        lookup: Arc<dyn Lookup>,
    ) -> Result<Self, FetchFault> {
        let setup = |error: &dyn Error| FetchFault::Setup(chain(error));
        let roots = rustls::RootCertStore { roots: webpki_roots::TLS_SERVER_ROOTS.to_vec() };
        let provider = Arc::new(rustls::crypto::ring::default_provider());
        let tls = rustls::ClientConfig::builder_with_provider(provider)
            .with_safe_default_protocol_versions()
            .map_err(|error| setup(&error))?
            .with_root_certificates(roots)
            .with_no_client_auth();
        let test = policy.test.as_ref().map(|server| server.address.ip());
        let http = reqwest::Client::builder()
            .tls_backend_preconfigured(tls)
            .dns_resolver(PublicOnly { lookup, test })
            .redirect(reqwest::redirect::Policy::none())
            .retry(reqwest::retry::never())
            .no_proxy()
            .connect_timeout(limits.connect)
            .timeout(limits.total)
            .build()
            .map_err(|error| setup(&error))?;
        let keys = keys.into_iter().map(Key::of).collect::<Result<_, _>>()?;
        let closed_until = Mutex::default();
        Ok(Self(Arc::new(Inner { http, policy, agent, keys, limits, pace, closed_until })))
    }

    /// The present instant.
    #[must_use]
    pub fn now(&self) -> DateTime<Utc> {
        self.0.pace.now()
    }

    /// Gets `url`, unless it is as it was at `known`.
    ///
    /// # Errors
    /// [`FetchFault`]; what may pass was tried again with pauses.
    pub async fn get(&self, url: &str, known: &Validators) -> Result<Fetched, FetchFault> {
        let inner = &self.0;
        let first = inner.policy.check(url)?;
        let host = host_of(&first);
        if inner.agent.contact.is_empty() && DEMAND_CONTACT.contains(&host.as_str()) {
            return Err(FetchFault::NoContact { host });
        }
        let mut attempt = 1;
        loop {
            inner.open(&host).await?;
            let (why, until, silent) = match inner.follow(first.clone(), known).await {
                Ok(Fetched::Unchanged { .. }) if *known == Validators::default() => {
                    let words = "unchanged, though nothing was known before".to_owned();
                    return Err(FetchFault::Status { host, status: 304, words });
                }
                Ok(fetched) => return Ok(fetched),
                Err(Trouble::Final(fault)) => return Err(fault),
                Err(Trouble::Passing { why, until }) => (why, until, false),
                Err(Trouble::Silent { why }) => (why, None, true),
            };
            if let Some(until) = until {
                inner.close(&host, until);
            }
            if attempt >= inner.limits.tries {
                if silent {
                    // Other gauges of the host would each wait as long for nothing.
                    inner.close(&host, inner.pace.now() + SILENCE);
                }
                return Err(match until {
                    Some(until) => FetchFault::Later { host, until },
                    None => FetchFault::NoAnswer { host, attempts: attempt, why },
                });
            }
            tracing::debug!(%host, attempt, %why, "trying again");
            if until.is_none() {
                inner.pace.wait(pause(&inner.limits, attempt, inner.pace.chance())).await;
            }
            attempt += 1;
        }
    }
}

impl Inner {
    /// Waits until `host` may be asked again.
    async fn open(&self, host: &str) -> Result<(), FetchFault> {
        let until = self.closed_until.lock().unwrap_or_else(PoisonError::into_inner).get(host).copied();
        let Some(until) = until else { return Ok(()) };
        let left = until - self.pace.now();
        if left <= TimeDelta::zero() {
            return Ok(());
        }
        let left = left.to_std().unwrap_or(Duration::MAX);
        if left > self.limits.longest_pause {
            return Err(FetchFault::Later { host: host.to_owned(), until });
        }
        self.pace.wait(left).await;
        Ok(())
    }

    fn close(&self, host: &str, until: DateTime<Utc>) {
        let mut closed = self.closed_until.lock().unwrap_or_else(PoisonError::into_inner);
        let known = closed.entry(host.to_owned()).or_insert(until);
        *known = until.max(*known);
    }

    /// One try, through redirects. Each step is checked as the first was.
    async fn follow(&self, first: Url, known: &Validators) -> Result<Fetched, Trouble> {
        let mut url = first.clone();
        for _ in 0..=self.limits.redirects {
            let response = self.send(&url, known).await?;
            if !is_redirect(response.status()) {
                return self.answer(&url, response).await;
            }
            let location = response.headers().get(LOCATION).and_then(|value| value.to_str().ok()).unwrap_or_default();
            let Ok(next) = url.join(location) else {
                let words = "a redirect to no address".to_owned();
                return Err(Trouble::Final(FetchFault::Status {
                    host: host_of(&url),
                    status: response.status().as_u16(),
                    words,
                }));
            };
            url = self.policy.check(next.as_str()).map_err(Trouble::Final)?;
        }
        Err(Trouble::Final(FetchFault::Redirects { host: host_of(&first), most: self.limits.redirects }))
    }

    async fn send(&self, url: &Url, known: &Validators) -> Result<Response, Trouble> {
        let host = host_of(url);
        let mut request = self
            .http
            .get(url.clone())
            .header(USER_AGENT, self.agent.header())
            .header(ACCEPT, "application/json, application/geo+json, text/plain;q=0.5");
        if let Some(key) = self.keys.iter().find(|key| key.host == host) {
            request = request.header(&key.header, &key.value);
        }
        if let Some(etag) = &known.etag {
            request = request.header(IF_NONE_MATCH, etag);
        }
        if let Some(date) = &known.last_modified {
            request = request.header(IF_MODIFIED_SINCE, date);
        }
        request.send().await.map_err(|error| trouble(error, &host))
    }

    async fn answer(&self, url: &Url, mut response: Response) -> Result<Fetched, Trouble> {
        let (host, status, now) = (host_of(url), response.status(), self.pace.now());
        if let Some(until) = used_up_until(response.headers(), now) {
            self.close(&host, until);
        }
        match status {
            StatusCode::NOT_MODIFIED => {
                return Ok(Fetched::Unchanged { fresh_until: fresh_until(response.headers(), now) });
            }
            StatusCode::OK | StatusCode::NON_AUTHORITATIVE_INFORMATION | StatusCode::PARTIAL_CONTENT => {}
            _ => {
                let until = retry_after(response.headers(), now);
                let passes = status.is_server_error()
                    || matches!(status, StatusCode::TOO_MANY_REQUESTS | StatusCode::REQUEST_TIMEOUT);
                let words = words_of(&mut response).await;
                if passes {
                    return Err(Trouble::Passing { why: format!("it answered {}: {words}", status.as_u16()), until });
                }
                return Err(Trouble::Final(FetchFault::Status { host, status: status.as_u16(), words }));
            }
        }
        let (validators, fresh_until) = (validators(response.headers()), fresh_until(response.headers(), now));
        let body = read(&mut response, self.limits.body_bytes, &host).await?;
        let deprecated = status == StatusCode::NON_AUTHORITATIVE_INFORMATION;
        Ok(Fetched::New(Fresh { body, url: url.to_string(), validators, fresh_until, deprecated }))
    }
}

fn is_redirect(status: StatusCode) -> bool {
    matches!(status.as_u16(), 301 | 302 | 303 | 307 | 308)
}

fn host_of(url: &Url) -> String {
    url.host_str().unwrap_or_default().to_owned()
}

fn validators(headers: &HeaderMap) -> Validators {
    let text = |name| headers.get(name).and_then(|value: &HeaderValue| value.to_str().ok());
    let kept = |name| text(name).filter(|text| text.len() <= 500).map(str::to_owned);
    Validators { etag: kept(ETAG), last_modified: kept(LAST_MODIFIED) }
}

/// Reads a body up to `limit` bytes and not one more.
async fn read(response: &mut Response, limit: usize, host: &str) -> Result<Vec<u8>, Trouble> {
    let too_large = || Trouble::Final(FetchFault::TooLarge { host: host.to_owned(), limit_bytes: limit });
    if response.content_length().is_some_and(|length| length > limit as u64) {
        return Err(too_large());
    }
    let mut body = Vec::new();
    while let Some(chunk) = response.chunk().await.map_err(|error| trouble(error, host))? {
        if body.len() + chunk.len() > limit {
            return Err(too_large());
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body)
}

/// What a refusal says, in a line.
async fn words_of(response: &mut Response) -> String {
    let status = response.status();
    let short = || status.canonical_reason().unwrap_or("no reason").to_owned();
    let Ok(body) = read(response, REFUSAL_BYTES, "").await else { return short() };
    match value::json(&body).and_then(|body| value::no_failure(&body)) {
        Err(PageFault::Service { message, .. }) => message,
        _ => short(),
    }
}

/// A failed request in words, without the address, which may be long.
fn trouble(error: reqwest::Error, host: &str) -> Trouble {
    let error = error.without_url();
    let mut cause: Option<&dyn Error> = Some(&error);
    while let Some(one) = cause {
        if let Some(aside) = one.downcast_ref::<LeadsAside>() {
            return Trouble::Final(FetchFault::NotAllowed { url: host.to_owned(), reason: aside.to_string() });
        }
        cause = one.source();
    }
    Trouble::Silent { why: chain(&error) }
}
