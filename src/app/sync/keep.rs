//! Judging what came and keeping it.

use std::collections::HashSet;

use chrono::{DateTime, Datelike as _, Days, Utc};

use super::ask::Window;
use crate::app::import_quality::{self, WITHDRAWN, local_date};
use crate::app::import_series::{Order, Series};
use crate::app::{AppError, jobs, threads};
use crate::domain::civil::{end_of_day, start_of_day};
use crate::domain::{Quality, Quantity, Reading, ReadingTime, Slug, Watershed};
use crate::ingest::csv::readings::ReadingRow;
use crate::ingest::temperature::series::Joined;
use crate::store::sync::{GaugeSync, put_gauge_sync};
use crate::store::{Counts, Db, Span, place, reading};

/// Whose readings are kept, and since when they are watched.
#[derive(Clone)]
pub(super) struct Keeping<'a> {
    pub(super) db: &'a Db,
    pub(super) watershed: &'a Watershed,
    pub(super) gauge: &'a Slug,
    /// Service and station, kept with each reading.
    pub(super) origin: String,
    /// Whether the gauge's history is being fetched for the first time.
    pub(super) first: bool,
    pub(super) now: DateTime<Utc>,
}

impl Keeping<'_> {
    /// Stores `readings`, all that the source has for `window`, and how far the gauge has come, in one
    /// transaction; news queues a publication. Says in words when much is gone that was there.
    pub(super) async fn put(
        &self,
        readings: &[Joined],
        window: Window,
        sync: &GaugeSync,
    ) -> Result<(Counts, Option<String>), AppError> {
        let mut judged = self.judge(readings).await?;
        let (gone, of) = self.withdrawn(&judged, window).await?;
        let mut note = None;
        if 2 * gone.len() > of {
            let words = "the source gives {} of {} stored readings of {} to {} no longer; they stay as they were";
            let parts = [gone.len().to_string(), of.to_string(), window.from.to_string(), window.to.to_string()];
            note = Some(parts.iter().fold(words.to_owned(), |words, part| words.replacen("{}", part, 1)));
        } else {
            judged.extend(gone);
        }
        let mut tx = self.db.write().await?;
        let counts = reading::put_fetched_readings(&mut tx, &self.watershed.slug, &judged, self.now).await?;
        put_gauge_sync(&mut tx, &self.watershed.slug, self.gauge, sync).await?;
        if counts.created + counts.updated > 0 {
            jobs::enqueue_publish(&mut tx, &self.watershed.slug, self.now).await?;
        }
        tx.commit().await?;
        Ok((counts, note))
    }

    /// Good readings of this source in `window` that are not among `judged`, doubted from now on; and how many
    /// good ones are stored there. A value may come back: then it is good again.
    async fn withdrawn(&self, judged: &[Reading], window: Window) -> Result<(Vec<Reading>, usize), AppError> {
        let (slug, zone) = (&self.watershed.slug, self.watershed.time_zone);
        let mut tx = self.db.read().await?;
        let dates = Span { from: Some(window.from), to: Some(window.to) };
        let mut stored = reading::daily_readings(&mut tx, slug, self.gauge, None, dates).await?;
        let instants = Span { from: Some(start_of_day(zone, window.from)), to: Some(end_of_day(zone, window.to)) };
        stored.extend(reading::instant_readings(&mut tx, slug, self.gauge, None, instants).await?);
        drop(tx);
        stored.retain(|known| known.source == self.origin && known.quality == Quality::Good);
        let of = stored.len();
        let times: HashSet<(bool, i64)> = judged.iter().map(|reading| key(&reading.time)).collect();
        stored.retain(|known| !times.contains(&key(&known.time)));
        for gone in &mut stored {
            gone.quality = Quality::Suspect;
            gone.reasons = vec![WITHDRAWN.to_owned()];
            (gone.known_at, gone.known_assumed) = (self.now, false);
        }
        Ok((stored, of))
    }

    /// Stores how far the gauge has come.
    pub(super) async fn put_state(&self, sync: &GaugeSync) -> Result<(), AppError> {
        let mut tx = self.db.write().await?;
        put_gauge_sync(&mut tx, &self.watershed.slug, self.gauge, sync).await?;
        Ok(tx.commit().await?)
    }

    /// The same checks that an import makes, on what came together with what is stored.
    async fn judge(&self, readings: &[Joined]) -> Result<Vec<Reading>, AppError> {
        let zone = self.watershed.time_zone;
        let dates = || readings.iter().map(|reading| local_date(&reading.time, zone));
        let years = dates().min().zip(dates().max()).map(|(first, last)| (first.year(), last.year()));
        let mut tx = self.db.read().await?;
        let gauges: Vec<Slug> =
            place::gauges(&mut tx, &self.watershed.slug).await?.into_iter().map(|gauge| gauge.slug).collect();
        let stored = import_quality::load(&mut tx, self.watershed, &gauges, Quantity::WaterTemperature, years).await?;
        drop(tx);
        let position = gauges.iter().position(|gauge| gauge == self.gauge).unwrap_or_default() as u32;
        let rows: Vec<ReadingRow> = readings.iter().map(|reading| self.row(reading, position)).collect();
        let source = self.origin.clone();
        // The checks of years of readings take a while.
        let judged = threads::at_once(move || {
            let mut series = Series::over(stored, gauges.len(), zone, Order::Any);
            for row in &rows {
                series.add(row);
            }
            let verdicts = series.judge();
            rows.iter().map(|row| verdicts.reading(row, &gauges, &source)).collect::<Vec<_>>()
        });
        let judged = judged.await.map_err(|error| AppError::Internal(format!("the checks of readings: {error}")))?;
        let judged = judged.into_iter().zip(readings).filter_map(|(reading, joined)| {
            let qualifiers = joined.qualifiers.clone();
            Some(Reading { qualifiers, ..reading? })
        });
        Ok(judged.collect())
    }

    fn row(&self, joined: &Joined, gauge: u32) -> ReadingRow {
        let zone = self.watershed.time_zone;
        let date = local_date(&joined.time, zone);
        // History that comes the first time is taken as known soon after it was true, as in an import, so
        // that looking back works. Later everything is known from now on: after an outage nobody can have
        // known the days that it hid.
        let assumed_at = end_of_day(zone, date + Days::new(1));
        let known_assumed = self.first && assumed_at <= self.now;
        ReadingRow {
            gauge,
            time: joined.time,
            date,
            flag: (joined.quality != Quality::Good).then_some(joined.quality),
            known_at: if known_assumed { assumed_at } else { self.now },
            known_assumed,
        }
    }
}

/// What tells two readings of a gauge apart: a day or an instant, and which.
fn key(time: &ReadingTime) -> (bool, i64) {
    match *time {
        ReadingTime::Day { date, .. } => (true, date.to_epoch_days().into()),
        ReadingTime::Instant { at, .. } => (false, at.timestamp_micros()),
    }
}
