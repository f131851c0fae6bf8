//! Asking a source for a span of days, through all its pages.

use std::collections::BTreeSet;

use chrono::{DateTime, Days, NaiveDate, Utc};
use chrono_tz::Tz;
use thiserror::Error;

use super::{FetchFault, Sources};
use crate::domain::source::{Service, Source};
use crate::ingest::client::{Fetched, Fresh, Validators};
use crate::ingest::temperature::{Asked, Measured, Page, PageFault, Refused, address, settle};
use crate::ingest::temperature::{hubeau, sensorthings, smhi, usgs};

/// Most pages of one span.
const MOST_PAGES: usize = 2000;
/// Longest span of continuous values that USGS gives at once, days: three years.
const USGS_CONTINUOUS_DAYS: u64 = 3 * 365;
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
    /// A base address among the settings is none.
    #[error("the address of the service in the settings is no address")]
    Base,
}

/// Days from the first to the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Window {
    pub(super) from: NaiveDate,
    pub(super) to: NaiveDate,
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
            _ => return vec![all],
        };
        // Cut from the end, so that the newest, by which series are chosen, is a full one.
        let mut windows = Vec::new();
        let mut to = all.to;
        while all.from <= to {
            let from = to.checked_sub_days(Days::new(most - 1)).map_or(all.from, |from| from.max(all.from));
            windows.push(Window { from, to });
            to = from - Days::new(1);
        }
        windows.reverse();
        windows
    }

    /// Everything of `window`, through all pages; nothing when it is as it was at `known`.
    pub(super) async fn ask(&self, window: Window, known: &Validators) -> Result<Got, AskFault> {
        let mut got = Got::default();
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
                    Fetched::Unchanged => return Ok(Got { unchanged: true, validators: known.clone(), ..got }),
                };
                let page = self.read(&fresh)?;
                if self.too_many(&page) && window.from < window.to {
                    let middle = window.from + Days::new((window.to - window.from).num_days() as u64 / 2);
                    waiting.push(Window { from: middle + Days::new(1), to: window.to });
                    waiting.push(Window { from: window.from, to: middle });
                    break;
                }
                got.validators = fresh.validators;
                got.rows.extend(page.readings);
                got.refused.merge(&page.refused);
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

    fn address(&self, Window { from, to }: Window) -> Option<String> {
        let (options, station) = (&self.sources.options, self.source.station.as_str());
        match self.source.service {
            Service::Usgs => address::usgs(&options.usgs_url, station, self.source.continuous, from, to),
            Service::Hubeau => address::hubeau(&options.hubeau_url, station, from, to),
            Service::Smhi => address::smhi(&options.smhi_url, station),
            Service::SensorThings => address::sensorthings(station, from),
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
        }
    }
}
