//! What one answer of a service gives.

use std::collections::BTreeMap;
use std::fmt;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use reqwest::Url;
use thiserror::Error;

use crate::domain::Quality;

/// What was asked of a service.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The address that was asked; the next page must lie on the same host.
    pub url: &'a str,
    /// The station whose values are wanted; those of another are refused. All when `None`.
    pub station: Option<&'a str>,
    /// The present instant; later values are refused.
    pub now: DateTime<Utc>,
    /// Time zone of the station: of clocks that the service leaves without one, and of the day that is
    /// not over yet.
    pub zone: Tz,
}

/// Which value of a day is stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Statistic {
    /// Mean of the day.
    Mean,
    /// Least of the day.
    Min,
    /// Greatest of the day.
    Max,
}

/// What a value is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum When {
    /// One value of a civil day at the station.
    Day(NaiveDate, Statistic),
    /// An instant.
    Instant(DateTime<Utc>),
}

/// One checked value.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// Identifier of the series at the service; one station may have several.
    pub series: String,
    /// What it is about.
    pub when: When,
    /// Water temperature, degrees Celsius.
    pub value_c: f64,
    /// How far the service itself trusts it.
    pub quality: Quality,
    /// The service's own marks, as sent.
    pub qualifiers: Vec<String>,
    /// When the service last changed it, where it says so.
    pub changed_at: Option<DateTime<Utc>>,
}

/// Why a value was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Why {
    /// Empty, null, or the service's mark for none.
    NoValue,
    /// Not a finite number.
    NotANumber,
    /// Not a possible temperature.
    OutOfRange,
    /// No unit, or neither degrees Celsius nor degrees Fahrenheit.
    Unit,
    /// Not a temperature of water.
    OtherQuantity,
    /// Of another station.
    OtherStation,
    /// A statistic other than mean, least and greatest.
    Statistic,
    /// A time that cannot be read or does not exist.
    Time,
    /// A time that is still to come, or a day that is not over.
    Future,
    /// A time before there were such measurements.
    TooOld,
    /// The same value again.
    Repeated,
    /// Two values for one time, and nothing says which counts.
    Conflict,
    /// A mean outside its own extremes, or extremes the wrong way round.
    Extremes,
    /// A row that is not of the service's form.
    Form,
    /// Not of the days that were asked for.
    Outside,
}

impl Why {
    /// All variants with their words in documents.
    pub const WORDS: [(Self, &'static str); 15] = [
        (Self::NoValue, "no-value"),
        (Self::NotANumber, "not-a-number"),
        (Self::OutOfRange, "out-of-range"),
        (Self::Unit, "unit"),
        (Self::OtherQuantity, "other-quantity"),
        (Self::OtherStation, "other-station"),
        (Self::Statistic, "statistic"),
        (Self::Time, "time"),
        (Self::Future, "future"),
        (Self::TooOld, "too-old"),
        (Self::Repeated, "repeated"),
        (Self::Conflict, "conflict"),
        (Self::Extremes, "extremes"),
        (Self::Form, "form"),
        (Self::Outside, "outside"),
    ];

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        Self::WORDS.iter().find(|(why, _)| *why == self).map_or("", |(_, word)| word)
    }
}

/// Counts of refused values by reason.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Refused(BTreeMap<Why, u64>);

impl Refused {
    /// Counts one.
    pub fn add(&mut self, why: Why) {
        *self.0.entry(why).or_default() += 1;
    }

    /// How many were refused for `why`.
    #[must_use]
    pub fn count(&self, why: Why) -> u64 {
        self.0.get(&why).copied().unwrap_or(0)
    }

    /// How many were refused in all.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.0.values().sum()
    }

    /// All reasons with their counts.
    pub fn iter(&self) -> impl Iterator<Item = (Why, u64)> {
        self.0.iter().map(|(why, count)| (*why, *count))
    }

    /// Adds the counts of another page.
    pub fn merge(&mut self, other: &Self) {
        for (why, count) in other.iter() {
            *self.0.entry(why).or_default() += count;
        }
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let words: Vec<String> = self.iter().map(|(why, count)| format!("{count} {}", why.as_str())).collect();
        f.write_str(&words.join(", "))
    }
}

/// One page: usable values by series and time, what was refused, and where to go on.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Page {
    /// Usable values by series and time, each time once.
    pub readings: Vec<Measured>,
    /// What was refused.
    pub refused: Refused,
    /// Address of the next page, on the host that was asked; none on the last.
    pub next: Option<String>,
    /// Rows in all pages together, where the service says so.
    pub total: Option<u64>,
}

impl Page {
    /// A page of `rows`, each either a value or the reason against it.
    pub(super) fn of(rows: impl IntoIterator<Item = Result<Measured, Why>>) -> Self {
        let mut refused = Refused::default();
        let mut kept = Vec::new();
        for row in rows {
            match row {
                Ok(measured) => kept.push(measured),
                Err(why) => refused.add(why),
            }
        }
        let readings = settle(kept, &mut refused);
        Self { readings, refused, next: None, total: None }
    }
}

/// Sorts values by series and time and leaves each time once. Of two different values the one that the
/// service changed last counts; where it does not say, neither does.
#[must_use]
pub fn settle(rows: Vec<Measured>, refused: &mut Refused) -> Vec<Measured> {
    let mut by_time: BTreeMap<(String, When), Option<Measured>> = BTreeMap::new();
    for row in rows {
        let key = (row.series.clone(), row.when);
        match by_time.get_mut(&key) {
            None => drop(by_time.insert(key, Some(row))),
            Some(slot) => match slot {
                None => refused.add(Why::Conflict),
                Some(known) => {
                    let same = known.value_c == row.value_c && known.quality == row.quality;
                    match (known.changed_at, row.changed_at) {
                        (Some(then), Some(now)) if then != now => {
                            refused.add(Why::Repeated);
                            if now > then {
                                *slot = Some(row);
                            }
                        }
                        _ if same => refused.add(Why::Repeated),
                        _ => {
                            refused.add(Why::Conflict);
                            refused.add(Why::Conflict);
                            *slot = None;
                        }
                    }
                }
            },
        }
    }
    by_time.into_values().flatten().collect()
}

/// Why a whole answer cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PageFault {
    /// Nothing in it.
    #[error("the answer is empty")]
    Empty,
    /// Not text.
    #[error("the answer is not UTF-8 text")]
    NotUtf8,
    /// A web page.
    #[error("a web page came instead of data")]
    WebPage,
    /// Not JSON.
    #[error("the answer is not JSON: {0}")]
    NotJson(String),
    /// Not what the service is known to send.
    #[error("the answer is not of the expected form: {0}")]
    Form(&'static str),
    /// The service says that it failed.
    #[error("the service says {code}: {message}")]
    Service {
        /// Its code.
        code: String,
        /// Its words.
        message: String,
    },
    /// The next page lies on another host.
    #[error("the next page would lie on another host, {0}")]
    Elsewhere(String),
}

/// The address of the next page, resolved against the one that was asked.
///
/// Servers behind a proxy write `http` though they were asked by `https`; that alone is mended. A key
/// in the address is taken out: it goes into a header, to its own host.
pub(crate) fn next_on_same_host(asked: &str, link: &str) -> Result<String, PageFault> {
    let elsewhere = || PageFault::Elsewhere(super::value::short(link, 100));
    let base = Url::parse(asked).map_err(|_| elsewhere())?;
    let mut next = base.join(link).map_err(|_| elsewhere())?;
    let proxied = base.scheme() == "https" && next.scheme() == "http" && next.port().is_none();
    if proxied && next.set_scheme("https").is_err() {
        return Err(elsewhere());
    }
    let stranger = !next.username().is_empty() || next.password().is_some();
    if stranger || next.origin() != base.origin() {
        return Err(elsewhere());
    }
    if next.query_pairs().any(|(key, _)| key == "api_key") {
        let kept: Vec<(String, String)> =
            next.query_pairs().filter(|(key, _)| key != "api_key").map(|(k, v)| (k.into(), v.into())).collect();
        next.query_pairs_mut().clear().extend_pairs(kept);
    }
    next.set_fragment(None);
    Ok(next.into())
}
