//! The environment variables: the name after the prefix, and what it sets.

use super::{DatabaseUrl, LogFormat, Settings};
use crate::domain::Secret;

/// Sets one value from its text.
pub(super) type Setter = fn(&mut Settings, &str) -> Result<(), String>;

/// Every variable after the prefix. A test holds this list to the fields of [`Settings`].
pub(super) const VARIABLES: [(&str, Setter); 26] = [
    ("DATABASE_URL", |s, v| {
        s.database.url = DatabaseUrl::new(v);
        Ok(())
    }),
    ("SERVER_LISTEN", |s, v| {
        s.server.listen = v.parse().map_err(|_| "must be ADDRESS:PORT, for example 127.0.0.1:8080".to_owned())?;
        Ok(())
    }),
    ("SERVER_PUBLIC_URL", |s, v| {
        v.clone_into(&mut s.server.public_url);
        Ok(())
    }),
    ("SERVER_ALLOW_PLAIN_HTTP", |s, v| {
        s.server.allow_plain_http = v.parse().map_err(|_| "must be true or false".to_owned())?;
        Ok(())
    }),
    ("SERVER_TRUSTED_PROXIES", |s, v| {
        let parsed: Result<_, _> = list(v).map(str::parse).collect();
        s.server.trusted_proxies = parsed.map_err(|_| "must be addresses with commas between".to_owned())?;
        Ok(())
    }),
    ("SERVER_WRITE_ORIGINS", |s, v| {
        s.server.write_origins = list(v).map(str::to_owned).collect();
        Ok(())
    }),
    ("SERVER_EMBED_HOSTS", |s, v| {
        s.server.embed_hosts = list(v).map(str::to_owned).collect();
        Ok(())
    }),
    ("SERVER_REQUEST_TIMEOUT_S", |s, v| {
        s.server.request_timeout_s = v.parse().map_err(|_| "must be a number of seconds".to_owned())?;
        Ok(())
    }),
    ("SERVER_WRITES_PER_MINUTE", |s, v| {
        s.server.writes_per_minute = v.parse().map_err(|_| "must be a whole number".to_owned())?;
        Ok(())
    }),
    ("SERVER_WRITES_PER_DAY", |s, v| {
        s.server.writes_per_day = v.parse().map_err(|_| "must be a whole number".to_owned())?;
        Ok(())
    }),
    ("SOURCES_CONTACT", |s, v| {
        v.clone_into(&mut s.sources.contact);
        Ok(())
    }),
    ("SOURCES_EVERY_HOURS", |s, v| {
        s.sources.every_hours = v.parse().map_err(|_| "must be a number of hours".to_owned())?;
        Ok(())
    }),
    ("SOURCES_HOSTS", |s, v| {
        s.sources.hosts = list(v).map(str::to_owned).collect();
        Ok(())
    }),
    ("SOURCES_HISTORY_YEARS", |s, v| {
        s.sources.history_years = v.parse().map_err(|_| "must be a number of years".to_owned())?;
        Ok(())
    }),
    ("SOURCES_OVERLAP_DAYS", |s, v| {
        s.sources.overlap_days = v.parse().map_err(|_| "must be a number of days".to_owned())?;
        Ok(())
    }),
    ("SOURCES_USGS_URL", |s, v| {
        v.clone_into(&mut s.sources.usgs_url);
        Ok(())
    }),
    ("SOURCES_USGS_KEY", |s, v| {
        s.sources.usgs_key = Secret::new(v);
        Ok(())
    }),
    ("SOURCES_HUBEAU_URL", |s, v| {
        v.clone_into(&mut s.sources.hubeau_url);
        Ok(())
    }),
    ("SOURCES_SMHI_URL", |s, v| {
        v.clone_into(&mut s.sources.smhi_url);
        Ok(())
    }),
    ("SOURCES_NWS_URL", |s, v| {
        v.clone_into(&mut s.sources.nws_url);
        Ok(())
    }),
    ("SOURCES_MET_NORWAY_URL", |s, v| {
        v.clone_into(&mut s.sources.met_norway_url);
        Ok(())
    }),
    ("ARCHIVE_LICENSE", |s, v| {
        v.clone_into(&mut s.archive.license);
        Ok(())
    }),
    ("ARCHIVE_RIGHTS_HOLDER", |s, v| {
        v.clone_into(&mut s.archive.rights_holder);
        Ok(())
    }),
    ("ARCHIVE_DATASET_NAME", |s, v| {
        v.clone_into(&mut s.archive.dataset_name);
        Ok(())
    }),
    ("LOG_FILTER", |s, v| {
        v.clone_into(&mut s.log.filter);
        Ok(())
    }),
    ("LOG_FORMAT", |s, v| {
        s.log.format = match v {
            "text" => LogFormat::Text,
            "json" => LogFormat::Json,
            _ => return Err("must be text or json".to_owned()),
        };
        Ok(())
    }),
];

/// The parts of `text` between commas; none of an empty text.
fn list(text: &str) -> impl Iterator<Item = &str> {
    text.split(',').map(str::trim).filter(|part| !part.is_empty())
}
