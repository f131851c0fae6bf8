//! Forecasts of the air from a weather service: asked as it wants to be asked, kept as they were made.
//!
//! What the service called fresh is not asked for again before that time, by nobody; then with its own
//! marks, so that an unchanged forecast costs one short answer.

use chrono::{DateTime, Utc};
use chrono_tz::Tz;

use super::Sources;
use super::ask::AskFault;
use super::run::Stop;
use crate::app::document::sync::{GaugeSyncDocument, SyncState};
use crate::app::{AppError, jobs};
use crate::domain::air::{AirDay, AirIssue, WeatherHour};
use crate::domain::source::{Service, Source};
use crate::domain::{Gauge, Watershed};
use crate::ingest::client::{Fetched, Fresh, Validators};
use crate::ingest::temperature::{PageFault, address};
use crate::ingest::weather::{AirForecast, met_norway, nws};
use crate::model::temperature::days_of_forecast;
use crate::store::air::put_air_forecast;
use crate::store::sync::{GaugeSync, put_gauge_sync};
use crate::store::{Counts, Db};

/// Whose forecast is fetched.
pub(super) struct Weather<'a> {
    pub(super) db: &'a Db,
    pub(super) sources: &'a Sources,
    pub(super) source: &'a Source,
    pub(super) watershed: &'a Watershed,
    pub(super) gauge: &'a Gauge,
    pub(super) now: DateTime<Utc>,
    /// True when the last try failed.
    pub(super) failed_before: bool,
    /// What was noted at the last try.
    pub(super) notes_before: &'a [String],
}

/// What is noted of a product that MET Norway marks with 203, until it answers without.
const DEPRECATED: &str = "MET Norway marks this product as deprecated (203): it is still read, and will be taken away. \
    sources.met_norway_url must name its successor.";

impl Weather<'_> {
    /// Fetches the newest forecast unless the last one is still fresh, and keeps it.
    pub(super) async fn fetch(&self, state: &mut GaugeSync, document: &mut GaugeSyncDocument) -> Result<(), Stop> {
        // What was said of the forecast that is still the newest holds.
        let noted = || self.notes_before.iter().filter(|note| *note == DEPRECATED).cloned();
        if state.fresh_until.is_some_and(|until| until > self.now) {
            state.notes.extend(noted());
            document.state = SyncState::Unchanged;
            return Ok(());
        }
        let url = match self.source.service {
            Service::Nws => self.grid(state).await?,
            _ => base(address::met_norway(
                &self.sources.options.met_norway_url,
                &self.source.station,
                self.source.altitude_m,
            ))?,
        };
        let known = Validators { etag: state.etag.clone(), last_modified: state.last_modified.clone() };
        let fresh = match self.sources.client.get(&url, &known).await.map_err(AskFault::Fetch)? {
            Fetched::Unchanged { fresh_until } => {
                state.fresh_until = fresh_until;
                state.notes.extend(noted());
                document.state = SyncState::Unchanged;
                return Ok(());
            }
            Fetched::New(fresh) => fresh,
        };
        if fresh.deprecated && self.source.service == Service::MetNorway {
            state.notes.push(DEPRECATED.to_owned());
        }
        let forecast = self.read(&fresh).map_err(AskFault::Page)?;
        let issue = self.issue(&forecast);
        if issue.days.is_empty() {
            return Err(AskFault::Page(PageFault::Form("it covers no whole day")).into());
        }
        state.fresh_until = fresh.fresh_until;
        (state.etag, state.last_modified) = (fresh.validators.etag, fresh.validators.last_modified);
        state.newest_date = issue.days.last().map(|day| day.date);
        let new = self.keep(&issue, state).await?;
        let days = issue.days.len() as u64;
        let (created, unchanged) = if new { (days, 0) } else { (0, days) };
        let counts = Counts { created, updated: 0, unchanged };
        document.count(issue.days.len(), counts, &forecast.refused);
        Ok(())
    }

    /// Where the grid of the place lies; asked once, since places do not move. Services redraw their grids
    /// now and then, so that it is asked again after a failure.
    async fn grid(&self, state: &mut GaugeSync) -> Result<String, Stop> {
        if let Some(known) = state.series.first().filter(|_| !self.failed_before) {
            return Ok(known.clone());
        }
        let point = base(address::nws(&self.sources.options.nws_url, &self.source.station))?;
        let answer = self.sources.client.get(&point, &Validators::default()).await.map_err(AskFault::Fetch)?;
        let Fetched::New(fresh) = answer else {
            return Err(AskFault::Page(PageFault::Empty).into());
        };
        let grid = nws::grid_address(&fresh.body, &fresh.url).map_err(AskFault::Page)?;
        state.series = vec![grid.clone()];
        // Marks of another grid say nothing of this one.
        (state.etag, state.last_modified) = (None, None);
        Ok(grid)
    }

    fn read(&self, fresh: &Fresh) -> Result<AirForecast, PageFault> {
        match self.source.service {
            Service::Nws => nws::forecast(&fresh.body, self.now),
            _ => met_norway::forecast(&fresh.body, self.now),
        }
    }

    fn issue(&self, forecast: &AirForecast) -> AirIssue {
        AirIssue {
            gauge: self.gauge.slug.clone(),
            made_at: forecast.made_at,
            known_at: self.now.max(forecast.made_at),
            source: self.source.origin(),
            days: days(forecast, self.watershed.time_zone),
            hours: forecast.air.iter().map(rounded).collect(),
        }
    }

    async fn keep(&self, issue: &AirIssue, state: &GaugeSync) -> Result<bool, AppError> {
        let slug = &self.watershed.slug;
        let mut tx = self.db.write().await?;
        let new = put_air_forecast(&mut tx, slug, issue).await?;
        put_gauge_sync(&mut tx, slug, &self.gauge.slug, state).await?;
        if new {
            jobs::enqueue_publish(&mut tx, slug, self.now).await?;
        }
        tx.commit().await?;
        Ok(new)
    }
}

fn base(address: Option<String>) -> Result<String, Stop> {
    address.ok_or_else(|| AskFault::Base.into())
}

/// The whole local days of a forecast.
fn days(forecast: &AirForecast, zone: Tz) -> Vec<AirDay> {
    let air: Vec<(DateTime<Utc>, f64)> = forecast.air.iter().map(|row| (row.at, row.air_c)).collect();
    let day = |(date, day): (chrono::NaiveDate, crate::model::temperature::DayTemp)| AirDay {
        date,
        tmean_c: hundredths(day.tmean_c),
        tmin_c: hundredths(day.tmin_c),
        tmax_c: hundredths(day.tmax_c),
    };
    days_of_forecast(&air, zone).into_iter().map(day).collect()
}

/// An hour without noise.
fn rounded(hour: &WeatherHour) -> WeatherHour {
    WeatherHour {
        at: hour.at,
        air_c: hundredths(hour.air_c),
        wind_kmh: hour.wind_kmh.map(hundredths),
        cloud: hour.cloud.map(hundredths),
        rain_mm: hour.rain_mm.map(hundredths),
    }
}

/// Finer is noise.
fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
