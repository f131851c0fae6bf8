//! Where the readings of a gauge come from, in one readable line.
//!
//! `SERVICE:STATION [key=value ...]`, for example `usgs:USGS-01420500` or
//! `hubeau:01001336 zone=Europe/Paris since=2015-01-01`. Any other text is words for people, unless it
//! begins with what looks like a misspelt service.

use std::fmt;

use chrono::{Datelike as _, NaiveDate};
use chrono_tz::Tz;

use super::Invalid;

/// First year that can be asked for.
const FIRST_YEAR: i32 = 1850;
/// Most letters added, left out or changed that make a word a misspelt service.
const MISSPELT: usize = 2;

/// An open service that can be asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Service {
    /// United States Geological Survey, water data.
    Usgs,
    /// Hub'Eau, France.
    Hubeau,
    /// Swedish Meteorological and Hydrological Institute.
    Smhi,
    /// Any server of OGC SensorThings.
    SensorThings,
    /// National Weather Service of the United States: forecasts of the air.
    Nws,
    /// Norwegian Meteorological Institute: forecasts of the air, everywhere.
    MetNorway,
}

impl Service {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 6] = [
        (Self::Usgs, "usgs"),
        (Self::Hubeau, "hubeau"),
        (Self::Smhi, "smhi"),
        (Self::SensorThings, "sensorthings"),
        (Self::Nws, "nws"),
        (Self::MetNorway, "met-norway"),
    ];

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        super::place::word_for(&Self::WORDS, self)
    }

    /// Keys that may follow its station.
    fn keys(self) -> &'static [&'static str] {
        match self {
            Self::Usgs => &["step", "series", "since"],
            Self::Hubeau => &["zone", "since"],
            Self::Smhi | Self::SensorThings => &["since"],
            Self::Nws => &[],
            Self::MetNorway => &["altitude"],
        }
    }

    /// True for services that forecast the air; the others measure water.
    #[must_use]
    pub fn is_weather(self) -> bool {
        matches!(self, Self::Nws | Self::MetNorway)
    }

    /// How a source of this service looks.
    fn form(self) -> String {
        format!("{}:{}", self.as_str(), if self.is_weather() { "LATITUDE,LONGITUDE" } else { "STATION" })
    }
}

/// What a service is to be thanked for, to be shown wherever its data are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Credit {
    /// Whom to thank, and what to know.
    pub text: String,
    /// The licence.
    pub licence: &'static str,
    /// Where to read more.
    pub url: String,
}

/// A station of a service, and what of it is wanted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Source {
    /// The service.
    pub service: Service,
    /// The station there; for SensorThings the address of a datastream, for the weather a place as
    /// `LATITUDE,LONGITUDE`.
    pub station: String,
    /// True when single readings are wanted and not daily values.
    pub continuous: bool,
    /// Series that are wanted; chosen among what there is when empty.
    pub series: Vec<String>,
    /// Time zone of clocks that the service leaves without one.
    pub zone: Option<Tz>,
    /// First day wanted.
    pub since: Option<NaiveDate>,
    /// Metres above sea level of the place whose weather is asked for.
    pub altitude_m: Option<i32>,
}

impl Source {
    /// Reads a gauge's source; `None` for words that name no service.
    ///
    /// # Errors
    /// [`Invalid`] for a misspelt service, a station that cannot be, or a wrong key or value.
    pub fn parse(text: &str) -> Result<Option<Self>, Invalid> {
        let mut words = text.split_whitespace();
        let Some((name, station)) = words.next().and_then(|word| word.split_once(':')) else { return Ok(None) };
        let fault = |value: &str, reason: String| Err(Invalid::new("source", value, reason));
        let is_word = !name.is_empty() && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
        // A colon with a space behind it is punctuation; files are told by their names.
        if station.is_empty() || !is_word || matches!(name, "file" | "http" | "https") {
            return Ok(None);
        }
        let Some((service, _)) = Service::WORDS.into_iter().find(|(_, word)| *word == name) else {
            let Some(nearest) = nearest(name) else { return Ok(None) };
            let known: Vec<String> = Service::WORDS.iter().map(|(service, _)| service.form()).collect();
            let known = known.join(", ");
            return fault(text, format!("names no known service, the nearest is {nearest}; known are {known}"));
        };
        let mut source = Self {
            service,
            station: check_station(service, station)?,
            continuous: false,
            series: Vec::new(),
            zone: None,
            since: None,
            altitude_m: None,
        };
        for word in words {
            let (key, value) = word.split_once('=').unwrap_or((word, ""));
            if !service.keys().contains(&key) || value.is_empty() {
                let known: Vec<String> = service.keys().iter().map(|key| format!("{key}=...")).collect();
                let only = if known.is_empty() { "nothing".to_owned() } else { format!("only {}", known.join(", ")) };
                let what = if service.is_weather() { "place" } else { "station" };
                return fault(word, format!("after the {what} {only} may follow"));
            }
            source.set(key, value)?;
        }
        Ok(Some(source))
    }

    fn set(&mut self, key: &str, value: &str) -> Result<(), Invalid> {
        let wrong = |reason: &str| Invalid::new("source", format!("{key}={value}"), reason);
        match key {
            "step" => {
                self.continuous = match value {
                    "daily" => false,
                    "continuous" => true,
                    _ => return Err(wrong("step must be daily or continuous")),
                }
            }
            "series" => self.series = value.split(',').filter(|id| !id.is_empty()).map(str::to_owned).collect(),
            "zone" => {
                let zone = value.parse().map_err(|_| wrong("zone must be UTC or an IANA time zone"))?;
                self.zone = Some(zone);
            }
            "altitude" => {
                let metres = value.parse().ok().filter(|metres| (-500..=9000).contains(metres));
                let rule = "altitude must be whole metres above sea level from -500 to 9000";
                self.altitude_m = Some(metres.ok_or_else(|| wrong(rule))?);
            }
            _ => self.since = Some(day(value).ok_or_else(|| wrong("since must be a date from 1850 on as YYYY-MM-DD"))?),
        }
        Ok(())
    }

    /// The service and station, as kept with each reading.
    #[must_use]
    pub fn origin(&self) -> String {
        format!("{}:{}", self.service.as_str(), self.station)
    }

    /// What to show wherever its data are.
    #[must_use]
    pub fn credit(&self) -> Credit {
        let station = &self.station;
        match self.service {
            Service::Usgs => Credit {
                text: format!(
                    "U.S. Geological Survey, {station}. Recent values are provisional: they may be revised, and \
                     nobody is liable for their use."
                ),
                licence: "US public domain",
                url: "https://waterdata.usgs.gov/provisional-data-statement/".to_owned(),
            },
            Service::Hubeau => Credit {
                text: format!("Hub'Eau / Naiades and the producer of the data, station {station}"),
                licence: "Licence Ouverte (Etalab)",
                url: "https://hubeau.eaufrance.fr/".to_owned(),
            },
            Service::Smhi => Credit {
                text: format!("SMHI, station {station}"),
                licence: "CC BY 4.0",
                url: "https://www.smhi.se/".to_owned(),
            },
            Service::SensorThings => {
                let host = station.split('/').nth(2).unwrap_or_default();
                let licence = "terms of its operator";
                Credit { text: format!("the SensorThings server {host}"), licence, url: station.clone() }
            }
            Service::Nws => Credit {
                text: format!("Air temperature as forecast by the U.S. National Weather Service for {station}"),
                licence: "US public domain",
                url: "https://www.weather.gov/disclaimer".to_owned(),
            },
            Service::MetNorway => Credit {
                text: format!("Data from MET Norway: air temperature as forecast for {station}"),
                licence: "CC BY 4.0",
                url: "https://api.met.no/doc/License".to_owned(),
            },
        }
    }
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.origin())?;
        if self.continuous {
            f.write_str(" step=continuous")?;
        }
        if !self.series.is_empty() {
            write!(f, " series={}", self.series.join(","))?;
        }
        if let Some(zone) = self.zone {
            write!(f, " zone={zone}")?;
        }
        if let Some(altitude_m) = self.altitude_m {
            write!(f, " altitude={altitude_m}")?;
        }
        self.since.map_or(Ok(()), |since| write!(f, " since={since}"))
    }
}

/// The service whose name a misspelt `name` is nearest to; none when it is like none of them.
fn nearest(name: &str) -> Option<&'static str> {
    let name = name.to_ascii_lowercase();
    let far = |word: &str| edits(name.as_bytes(), word.as_bytes());
    let (edits, word) = Service::WORDS.iter().map(|(_, word)| (far(word), *word)).min()?;
    (edits <= MISSPELT).then_some(word)
}

/// Least number of letters added, left out or changed that make `b` of `a` (Levenshtein's distance).
fn edits(a: &[u8], b: &[u8]) -> usize {
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut corner = std::mem::replace(&mut row[0], i + 1);
        for (j, y) in b.iter().enumerate() {
            let changed = corner + usize::from(x != y);
            corner = row[j + 1];
            row[j + 1] = changed.min(corner + 1).min(row[j] + 1);
        }
    }
    row[b.len()]
}

/// A date written YYYY-MM-DD and no other way; years before the first measurements are mistakes.
fn day(text: &str) -> Option<NaiveDate> {
    let shaped = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    let date = if shaped { NaiveDate::parse_from_str(text, "%Y-%m-%d").ok()? } else { return None };
    (date.year() >= FIRST_YEAR && date.to_string() == text).then_some(date)
}

fn check_station(service: Service, station: &str) -> Result<String, Invalid> {
    let plain = station.len() <= 60 && station.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_');
    let (fine, rule) = match service {
        Service::Usgs => (
            plain && station.split_once('-').is_some_and(|(agency, number)| !agency.is_empty() && !number.is_empty()),
            "a station of USGS has its agency before its number, for example usgs:USGS-01420500",
        ),
        Service::Hubeau => (plain, "a station of Hub'Eau is a code, for example hubeau:01001336"),
        Service::Smhi => (
            plain && station.bytes().all(|b| b.is_ascii_digit()),
            "a station of SMHI is a number, for example smhi:80107",
        ),
        Service::SensorThings => (is_datastream(station), "must be as sensorthings:https://HOST/PATH/Datastreams(1)"),
        Service::Nws | Service::MetNorway => (
            place_of(station).is_some(),
            "a place is latitude and longitude in degrees with at most four decimals, for example met-norway:52.1,-3.2",
        ),
    };
    if fine { Ok(station.to_owned()) } else { Err(Invalid::new("source", station, rule)) }
}

/// Latitude and longitude of a place; services refuse more than four decimals, and a river needs no more.
fn place_of(text: &str) -> Option<(f64, f64)> {
    let degrees = |text: &str, most: f64| {
        let (whole, decimals) = text.strip_prefix('-').unwrap_or(text).split_once('.').unwrap_or((text, "0"));
        let digits = |text: &str, most: usize| {
            (1..=most).contains(&text.len()) && text.bytes().all(|digit| digit.is_ascii_digit())
        };
        let fine = digits(whole.trim_start_matches('-'), 3) && digits(decimals, 4);
        fine.then(|| text.parse::<f64>().ok()).flatten().filter(|value| value.abs() <= most)
    };
    let (latitude, longitude) = text.split_once(',')?;
    Some((degrees(latitude, 90.0)?, degrees(longitude, 180.0)?))
}

fn is_datastream(address: &str) -> bool {
    let entity = address.rsplit('/').next().unwrap_or_default();
    let id = entity.strip_prefix("Datastreams(").and_then(|rest| rest.strip_suffix(')'));
    let web = address.starts_with("https://") || address.starts_with("http://");
    web && address.len() <= 400 && !address.contains(['?', '#', '@']) && id.is_some_and(|id| !id.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sources_are_read_and_written() {
        for text in [
            "usgs:USGS-01420500",
            "usgs:CA574-12 step=continuous series=a1,b2 since=2019-01-01",
            "hubeau:01001336 zone=Europe/Paris",
            "smhi:80107 since=1850-01-01",
            "sensorthings:https://things.example/v1.1/Datastreams(12)",
            "nws:39.7456,-97.0892",
            "met-norway:60.1,9 altitude=-3",
        ] {
            let source = Source::parse(text).expect("valid").expect("a service");
            assert_eq!(source.to_string(), text);
            let credit = source.credit();
            assert!(!credit.text.is_empty() && !credit.licence.is_empty() && credit.url.starts_with("https://"));
        }
        let plain = Source::parse("usgs:USGS-1 step=daily").expect("valid").expect("a service");
        assert_eq!((plain.continuous, plain.to_string()), (false, "usgs:USGS-1".to_owned()));
    }

    #[test]
    fn words_are_no_service() {
        for text in ["", "by hand", "our logger: under the bridge", "file:a.csv", "invented", "Logger 3", ": x"]
            .into_iter()
            .chain(["https://a.example/Datastreams(1)", "http://club.example", "logger:weir", "smith:weir by=hand"])
        {
            assert_eq!(Source::parse(text), Ok(None), "{text}");
        }
    }

    #[test]
    fn mistakes_are_told() {
        for (text, said) in [
            ("uggs:USGS-1", "known are usgs:STATION"),
            ("usgs:01420500", "agency"),
            ("usgs:USGS-", "agency"),
            ("usgs:USGS-1/../x", "agency"),
            ("usgs:USGS-1 zone=UTC", "only step=..."),
            ("usgs:USGS-1 step=hourly", "daily or continuous"),
            ("usgs:USGS-1 step", "only step=..."),
            ("hubeau:01 zone=Paris", "IANA"),
            ("hubeau:01 since=2020", "YYYY-MM-DD"),
            ("smhi:x1", "number"),
            ("sensorthings:things.example/Datastreams(1)", "https://HOST"),
            ("sensorthings:https://a.example/Things(1)", "https://HOST"),
            ("sensorthings:https://u@a.example/Datastreams(1)", "https://HOST"),
            ("sensorthings:ftp://a.example/Datastreams(1)", "https://HOST"),
            ("USGS:USGS-1", "nearest is usgs"),
            ("hub-eau:01", "nearest is hubeau"),
            ("shmi:80107", "nearest is smhi"),
            ("sensorthing:https://a.example/Datastreams(1)", "nearest is sensorthings"),
            ("smhi:1 since=-262143-01-01", "YYYY-MM-DD"),
            ("smhi:1 since=+262142-12-31", "YYYY-MM-DD"),
            ("smhi:1 since=+2020-01-1", "YYYY-MM-DD"),
            ("smhi:1 since=-020-01-01", "YYYY-MM-DD"),
            ("smhi:1 since=1849-12-31", "from 1850"),
            ("smhi:1 since=2020-1-01", "YYYY-MM-DD"),
            ("smhi:1 since=2023-02-29", "YYYY-MM-DD"),
            ("nws:39.74561,-97.0892", "four decimals"),
            ("nws:39.7456", "four decimals"),
            ("nws:91,0", "four decimals"),
            ("nws:--9,0", "four decimals"),
            ("nws:1e1,0", "four decimals"),
            ("nws:39.7,-97.1 since=2020-01-01", "nothing may follow"),
            ("met-norway:60.1,9.5 altitude=high", "whole metres"),
            ("metnorway:60.1,9.5", "nearest is met-norway"),
        ] {
            let fault = Source::parse(text).expect_err(text);
            assert!(fault.to_string().contains(said), "{text}: {fault}");
        }
    }
}
