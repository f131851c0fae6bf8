//! Settings of open services.

use serde::{Deserialize, Deserializer};

use crate::domain::Secret;

/// Open services of water temperature.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SourceSettings {
    /// An e-mail address or web page of the operator, told to the services asked; some demand it.
    pub contact: String,
    /// Hours between two fetches while the service runs, 0 for none, at most 168.
    pub every_hours: u32,
    /// Hosts of SensorThings servers that gauges may name.
    pub hosts: Vec<String>,
    /// Years fetched the first time, 1 to 100.
    pub history_years: u32,
    /// Days fetched again each time, since services revise what they sent; 1 to 3650.
    pub overlap_days: u32,
    /// Base address of the water data of the United States Geological Survey, with its version.
    pub usgs_url: String,
    /// A key for it, which allows more requests.
    #[serde(deserialize_with = "secret")]
    pub usgs_key: Secret,
    /// Base address of the river temperatures of Hub'Eau.
    pub hubeau_url: String,
    /// Base address of SMHI's hydrological observations, with its version.
    pub smhi_url: String,
    /// Base address of the United States National Weather Service.
    pub nws_url: String,
    /// Base address of the location forecasts of MET Norway, with their version.
    pub met_norway_url: String,
}

impl Default for SourceSettings {
    fn default() -> Self {
        Self {
            contact: String::new(),
            every_hours: 6,
            hosts: Vec::new(),
            history_years: 10,
            overlap_days: 45,
            usgs_url: "https://api.waterdata.usgs.gov/ogcapi/v0".to_owned(),
            usgs_key: Secret::default(),
            hubeau_url: "https://hubeau.eaufrance.fr/api/v1/temperature".to_owned(),
            smhi_url: "https://opendata-download-hydroobs.smhi.se/api/version/latest".to_owned(),
            nws_url: "https://api.weather.gov".to_owned(),
            met_norway_url: "https://api.met.no/weatherapi/locationforecast/2.0".to_owned(),
        }
    }
}

impl SourceSettings {
    /// Key, value and rule of the first fault.
    pub(super) fn check(&self) -> Result<(), (&'static str, String, &'static str)> {
        let printable = |text: &str| text.len() <= 200 && text.chars().all(|c| c.is_ascii_graphic() || c == ' ');
        if !printable(&self.contact) || self.contact.contains(['(', ')']) {
            let rule = "must be an e-mail address or a web page, in plain characters";
            return Err(("sources.contact", self.contact.clone(), rule));
        }
        let numbers = [
            ("sources.every_hours", self.every_hours, 0, 168, "must be 0 to 168 hours"),
            ("sources.history_years", self.history_years, 1, 100, "must be 1 to 100 years"),
            ("sources.overlap_days", self.overlap_days, 1, 3650, "must be 1 to 3650 days"),
        ];
        if let Some((key, value, .., rule)) =
            numbers.into_iter().find(|(_, v, low, high, _)| !(low..=high).contains(&v))
        {
            return Err((key, value.to_string(), rule));
        }
        if !self.usgs_key.reveal().bytes().all(|b| b.is_ascii_graphic()) {
            return Err(("sources.usgs_key", "***".to_owned(), "must be one word in plain characters"));
        }
        let bases = [
            ("sources.usgs_url", &self.usgs_url),
            ("sources.hubeau_url", &self.hubeau_url),
            ("sources.smhi_url", &self.smhi_url),
            ("sources.nws_url", &self.nws_url),
            ("sources.met_norway_url", &self.met_norway_url),
        ];
        for (key, base) in bases {
            let place = base.strip_prefix("https://").unwrap_or_default();
            if place.is_empty() || place.ends_with('/') || place.contains(['?', '#', '@', ' ']) {
                return Err((key, base.clone(), "must be an https:// address without a slash at its end"));
            }
        }
        let name = |host: &str| host.contains('.') && !host.contains(['/', ':', '@', ' ', '[']) && !host.ends_with('.');
        match self.hosts.iter().find(|host| !name(host)) {
            Some(bad) => Err(("sources.hosts", bad.clone(), "must be names of hosts, for example things.example")),
            None => Ok(()),
        }
    }
}

fn secret<'de, D: Deserializer<'de>>(from: D) -> Result<Secret, D::Error> {
    String::deserialize(from).map(Secret::new)
}
