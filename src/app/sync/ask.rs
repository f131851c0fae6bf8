//! Asking a source for a span of days, through all its pages.

use std::collections::BTreeSet;
use std::fmt;

use chrono::{DateTime, Days, NaiveDate, Utc};
use chrono_tz::Tz;
use thiserror::Error;

use super::{FetchFault, Sources};
use crate::domain::source::{Service, Source};
use crate::ingest::client::{Fetched, Fresh, Validators};
use crate::ingest::temperature::{Asked, Measured, Page, PageFault, Refused, When, Why, address, settle};
use crate::ingest::temperature::{hubeau, sensorthings, smhi, usgs};

/// Most pages of one span.
const MOST_PAGES: usize = 2000;
/// Most rows of one span: three years by the quarter of an hour are a fifth of it.
const MOST_ROWS: usize = 500_000;
/// Longest span of continuous values that USGS gives at once, days: three years.
const USGS_CONTINUOUS_DAYS: u64 = 3 * 365;
/// Span asked of a SensorThings server at once, days: so an old one that cannot be read leaves the others.
const THINGS_DAYS: u64 = 365;
/// Span asked of Hub'Eau at once, days: a year by the hour stays below its limit of rows.
const HUBEAU_DAYS: u64 = 365;

/// Why a source could not be read.
#[derive(Debug, Error)]
pub(super) enum AskFault {
    /// Nothing came.
    #[error(transparent)]
    Fetch(#[from] FetchFault),
    /// What came is unusable.
    #[error("{0}")]
    Page(#[from] PageFault),
    /// The pages lead in a circle or never end.
    #[error("the pages of the service lead in a circle")]
    Circle,
    /// More than is held at once.
    #[error("the service sends more than {most} values for {} to {}", .span.from, .span.to)]
    TooMany {
        /// What was asked for.
        span: Window,
        /// Most values of one span.
        most: usize,
    },
    /// It takes too long.
    #[error("it took longer than {minutes} minutes; what came so far is kept, and the next fetch goes on from there")]
    TooLong {
        /// The limit.
        minutes: u64,
    },
    /// A base address among the settings is none.
    #[error("the address of the service in the settings is no address")]
    Base,
}

impl AskFault {
    /// True when other spans would fare no better now.
    pub(super) fn is_of_the_service(&self) -> bool {
        match self {
            Self::Fetch(FetchFault::Status { .. } | FetchFault::TooLarge { .. })
            | Self::Page(_)
            | Self::Circle
            | Self::TooMany { .. } => false,
            Self::Fetch(_) | Self::TooLong { .. } | Self::Base => true,
        }
    }
}

/// Days from the first to the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Window {
    pub(super) from: NaiveDate,
    pub(super) to: NaiveDate,
}

impl fmt::Display for Window {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.from, self.to)
    }
}

impl Window {
    /// Reads the form that it is written in.
    pub(super) fn parse(text: &str) -> Option<Self> {
        let (from, to) = text.split_once('/')?;
        Some(Self { from: from.parse().ok()?, to: to.parse().ok()? }).filter(|window| window.from <= window.to)
    }

    /// In spans of at most `most` days, in order. Cut from the end, so that the newest, by which series are
    /// chosen, is a full one.
    fn cut(self, most: u64) -> Vec<Self> {
        let mut windows = Vec::new();
        let mut to = Some(self.to);
        while let Some(last) = to.filter(|to| self.from <= *to) {
            let from = last.checked_sub_days(Days::new(most - 1)).map_or(self.from, |from| from.max(self.from));
            windows.push(Self { from, to: last });
            to = from.pred_opt();
        }
        windows.reverse();
        windows
    }

    /// True of a value of these days, or of the day before or after: clocks of services differ from ours.
    fn holds(self, when: When, zone: Tz) -> bool {
        let date = match when {
            When::Day(date, _) => date,
            When::Instant(at) => at.with_timezone(&zone).date_naive(),
        };
        (date - self.from).num_days() >= -1 && (date - self.to).num_days() <= 1
    }
}

/// What a source said.
#[derive(Debug, Default)]
pub(super) struct Got {
    pub(super) rows: Vec<Measured>,
    pub(super) refused: Refused,
    pub(super) validators: Validators,
    /// True when nothing was sent since it is as it was.
    pub(super) unchanged: bool,
}

/// A source being asked.
pub(super) struct Question<'a> {
    sources: &'a Sources,
    source: &'a Source,
    zone: Tz,
    now: DateTime<Utc>,
    /// Unit of a datastream, which its observations do not repeat.
    unit: String,
}

impl<'a> Question<'a> {
    /// Makes ready to ask; `zone` is used for clocks without a zone.
    pub(super) async fn of(sources: &'a Sources, source: &'a Source, zone: Tz) -> Result<Self, AskFault> {
        let mut unit = String::new();
        if source.service == Service::SensorThings {
            let answer = sources.client.get(&source.station, &Validators::default()).await?;
            if let Fetched::New(fresh) = answer {
                unit = sensorthings::datastream(&fresh.body)?.unit;
            }
        }
        let now = sources.client.now();
        Ok(Self { sources, source, zone: source.zone.unwrap_or(zone), now, unit })
    }

    /// The spans that are asked one by one, in order.
    pub(super) fn windows(&self, all: Window) -> Vec<Window> {
        let most = match self.source.service {
            Service::Usgs if self.source.continuous => USGS_CONTINUOUS_DAYS,
            Service::Hubeau => HUBEAU_DAYS,
            Service::SensorThings => THINGS_DAYS,
            _ => return vec![all],
        };
        all.cut(most)
    }

    /// Everything of `window`, through all pages; nothing when it is as it was at `known`.
    pub(super) async fn ask(&self, window: Window, known: &Validators) -> Result<Got, AskFault> {
        let mut got = Got::default();
        let span = window;
        let mut waiting = vec![window];
        while let Some(window) = waiting.pop() {
            let mut url = self.address(window).ok_or(AskFault::Base)?;
            let mut seen = BTreeSet::new();
            loop {
                if !seen.insert(url.clone()) || seen.len() > MOST_PAGES {
                    return Err(AskFault::Circle);
                }
                let fresh = match self.sources.client.get(&url, known).await? {
                    Fetched::New(fresh) => fresh,
                    Fetched::Unchanged { .. } => return Ok(Got { unchanged: true, validators: known.clone(), ..got }),
                };
                let page = self.read(&fresh)?;
                if self.too_many(&page) && window.from < window.to {
                    let middle = window.from + Days::new((window.to - window.from).num_days() as u64 / 2);
                    waiting.push(Window { from: middle + Days::new(1), to: window.to });
                    waiting.push(Window { from: window.from, to: middle });
                    break;
                }
                got.validators = fresh.validators;
                has_room(span, got.rows.len() + page.readings.len(), MOST_ROWS)?;
                got.refused.merge(&page.refused);
                for row in page.readings {
                    if window.holds(row.when, self.zone) {
                        got.rows.push(row);
                    } else if self.is_bounded() {
                        got.refused.add(Why::Outside);
                    }
                }
                match page.next {
                    Some(next) => url = next,
                    None => break,
                }
            }
        }
        got.rows = settle(std::mem::take(&mut got.rows), &mut got.refused);
        Ok(got)
    }

    /// True when a service gives fewer rows of one question than it has.
    fn too_many(&self, page: &Page) -> bool {
        self.source.service == Service::Hubeau && page.total.is_some_and(|total| total > address::HUBEAU_ROWS)
    }

    /// True when the service was told both ends of the span; others send what else they have.
    fn is_bounded(&self) -> bool {
        matches!(self.source.service, Service::Usgs | Service::Hubeau)
    }

    fn address(&self, Window { from, to }: Window) -> Option<String> {
        let (options, station) = (&self.sources.options, self.source.station.as_str());
        match self.source.service {
            Service::Usgs => address::usgs(&options.usgs_url, station, self.source.continuous, from, to),
            Service::Hubeau => address::hubeau(&options.hubeau_url, station, from, to),
            Service::Smhi => address::smhi(&options.smhi_url, station),
            // The newest span is open: what comes while it is read belongs to it.
            Service::SensorThings => {
                address::sensorthings(station, from, Some(to).filter(|to| *to < self.now.date_naive()))
            }
            Service::Nws => address::nws(&options.nws_url, station),
            Service::MetNorway => address::met_norway(&options.met_norway_url, station, self.source.altitude_m),
        }
    }

    fn read(&self, fresh: &Fresh) -> Result<Page, PageFault> {
        let station = match self.source.service {
            Service::SensorThings => self.source.station.rsplit('/').next(),
            _ => Some(self.source.station.as_str()),
        };
        let asked = Asked { url: &fresh.url, station, now: self.now, zone: self.zone };
        match self.source.service {
            Service::Usgs => usgs::page(&fresh.body, &asked),
            Service::Hubeau => hubeau::page(&fresh.body, &asked),
            Service::Smhi => smhi::page(&fresh.body, &asked),
            Service::SensorThings => sensorthings::page(&fresh.body, &self.unit, &asked),
            Service::Nws | Service::MetNorway => Err(PageFault::Form("a forecast of the air is no reading")),
        }
    }
}

/// Refuses more rows than are held at once.
fn has_room(span: Window, rows: usize, most: usize) -> Result<(), AskFault> {
    if rows > most { Err(AskFault::TooMany { span, most }) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_are_cut_down_to_the_first_day_that_there_is() {
        let day = |text: &str| text.parse::<NaiveDate>().expect("a date");
        let window = |from, to| Window { from: day(from), to: day(to) };
        let cut = window("2026-01-01", "2026-01-05").cut(2);
        let spans = [("2026-01-01", "2026-01-01"), ("2026-01-02", "2026-01-03"), ("2026-01-04", "2026-01-05")];
        assert_eq!(cut, spans.map(|(from, to)| window(from, to)));
        let ever = Window { from: NaiveDate::MIN, to: NaiveDate::MIN + Days::new(4) };
        assert_eq!(ever.cut(2).len(), 3);
        assert!(window("2026-01-02", "2026-01-01").cut(2).is_empty());
    }

    #[test]
    fn rows_are_counted_before_they_are_held() {
        let day = NaiveDate::default();
        let span = Window { from: day, to: day };
        assert!(has_room(span, 4, 4).is_ok());
        let fault = has_room(span, 5, 4).expect_err("one too many");
        assert_eq!(fault.to_string(), "the service sends more than 4 values for 1970-01-01 to 1970-01-01");
    }
}
