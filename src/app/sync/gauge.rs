//! One gauge from its source.

use chrono::{Days, Months, NaiveDate};

use super::ask::{AskFault, Got, Question, Window};
use super::keep::Keeping;
use super::{FetchFault, Sources};
use crate::app::AppError;
use crate::app::document::sync::{GaugeSyncDocument, SyncState};
use crate::app::import_quality::local_date;
use crate::clock::Clock;
use crate::domain::source::{Service, Source};
use crate::domain::{Gauge, Watershed};
use crate::ingest::client::Validators;
use crate::ingest::temperature::Measured;
use crate::ingest::temperature::series::{Choice, choose, join};
use crate::store::Db;
use crate::store::sync::{GaugeSync, find_gauge_sync};

/// Fetches for one gauge; what goes wrong with the source is in the document.
pub(super) async fn sync_gauge(
    db: &Db,
    clock: &dyn Clock,
    sources: &Sources,
    watershed: &Watershed,
    gauge: &Gauge,
) -> Result<GaugeSyncDocument, AppError> {
    let mut document = GaugeSyncDocument::new(watershed, gauge);
    let source = match gauge.source.as_deref().map(Source::parse) {
        None | Some(Ok(None)) => {
            document.state = SyncState::NoSource;
            return Ok(document);
        }
        Some(Err(fault)) => {
            document.fail(SyncState::Failed, fault.to_string());
            return Ok(document);
        }
        Some(Ok(Some(source))) => source,
    };
    let now = clock.now();
    let mut tx = db.read().await?;
    let before = find_gauge_sync(&mut tx, &watershed.slug, &gauge.slug).await?;
    drop(tx);
    // Another source starts afresh.
    let before = before.filter(|before| before.source == source.to_string());
    let mut state = GaugeSync {
        source: source.to_string(),
        series: before.as_ref().map(|before| before.series.clone()).unwrap_or_default(),
        newest_date: before.as_ref().and_then(|before| before.newest_date),
        etag: before.as_ref().and_then(|before| before.etag.clone()),
        last_modified: before.as_ref().and_then(|before| before.last_modified.clone()),
        tried_at: now,
        done_at: before.as_ref().and_then(|before| before.done_at),
        failure: None,
        notes: notes_on(&source, watershed),
    };
    let first = state.done_at.is_none();
    let (origin, slug) = (source.origin(), &gauge.slug);
    let keeping = Keeping { db, watershed, gauge: slug, origin, first, now };
    let mut run = Run { sources, source: &source, keeping, state: &mut state, document: &mut document };
    let fault = match run.all().await {
        Ok(()) => None,
        Err(Stop::App(error)) => return Err(error),
        Err(Stop::Ask(fault)) => Some(fault),
    };
    let keeping = run.keeping;
    match fault {
        None => state.done_at = Some(now),
        Some(fault) => {
            let kind = match fault {
                AskFault::Fetch(FetchFault::Later { .. }) => SyncState::PutOff,
                _ => SyncState::Failed,
            };
            state.failure = Some(fault.to_string());
            document.fail(kind, fault.to_string());
        }
    }
    keeping.put_state(&state).await?;
    document.series.clone_from(&state.series);
    document.notes.clone_from(&state.notes);
    document.through = state.newest_date;
    Ok(document)
}

fn notes_on(source: &Source, watershed: &Watershed) -> Vec<String> {
    let unzoned = source.service == Service::Hubeau && source.zone.is_none();
    let zone = watershed.time_zone;
    let note = format!("Hub'Eau states no time zone: its times are read as {zone}; zone=... says otherwise");
    if unzoned { vec![note] } else { Vec::new() }
}

enum Stop {
    App(AppError),
    Ask(AskFault),
}

impl From<AppError> for Stop {
    fn from(error: AppError) -> Self {
        Self::App(error)
    }
}

impl From<AskFault> for Stop {
    fn from(fault: AskFault) -> Self {
        Self::Ask(fault)
    }
}

struct Run<'a, 's> {
    sources: &'a Sources,
    source: &'a Source,
    keeping: Keeping<'a>,
    state: &'s mut GaugeSync,
    document: &'s mut GaugeSyncDocument,
}

impl Run<'_, '_> {
    async fn all(&mut self) -> Result<(), Stop> {
        let question = Question::of(self.sources, self.source, self.keeping.watershed.time_zone).await?;
        let windows = question.windows(self.window());
        // Which series to take is decided by the newest values, though the oldest are stored first.
        let mut newest = None;
        if self.state.series.is_empty()
            && let [_, .., last] = windows.as_slice()
        {
            let got = question.ask(*last, &Validators::default()).await?;
            self.choose(&got.rows);
            newest = Some(got);
        }
        let known = self.validators();
        for (index, window) in windows.iter().enumerate() {
            let got = match newest.take_if(|_| index + 1 == windows.len()) {
                Some(got) => got,
                None => question.ask(*window, &known).await?,
            };
            self.take(got).await?;
        }
        Ok(())
    }

    /// From what was fetched last, with an overlap for late revisions, to today everywhere.
    fn window(&self) -> Window {
        let options = &self.sources.options;
        let today = self.keeping.now.date_naive();
        let to = today + Days::new(1);
        let since = self.source.since.unwrap_or(NaiveDate::MIN);
        let from = match self.state.newest_date {
            Some(newest) => newest.checked_sub_days(Days::new(options.overlap_days.into())).unwrap_or(newest),
            None if self.source.since.is_some() => since,
            None => today.checked_sub_months(Months::new(12 * options.history_years)).unwrap_or(today),
        };
        Window { from: from.max(since).min(to), to }
    }

    /// Only a source that is one document can be asked whether it changed.
    fn validators(&self) -> Validators {
        if self.source.service != Service::Smhi || self.state.newest_date.is_none() {
            return Validators::default();
        }
        Validators { etag: self.state.etag.clone(), last_modified: self.state.last_modified.clone() }
    }

    fn choose(&mut self, rows: &[Measured]) {
        let Choice { series, notes } = choose(rows, &self.source.series);
        self.state.series = series;
        for note in notes {
            if !self.state.notes.contains(&note) {
                self.state.notes.push(note);
            }
        }
    }

    /// Keeps what one span gave.
    async fn take(&mut self, got: Got) -> Result<(), Stop> {
        if got.unchanged {
            self.document.state = SyncState::Unchanged;
            return Ok(());
        }
        if self.state.series.is_empty() || !self.source.series.is_empty() {
            self.choose(&got.rows);
        }
        let mut choice = Choice { series: self.state.series.clone(), notes: Vec::new() };
        if !got.rows.is_empty() && !got.rows.iter().any(|row| choice.series.contains(&row.series)) {
            let others: std::collections::BTreeSet<&str> = got.rows.iter().map(|row| row.series.as_str()).collect();
            let others: Vec<&str> = others.into_iter().take(10).collect();
            choice.notes.push(format!(
                "series {} sent nothing; there is {}; name it with series= if it goes on",
                choice.series.join(", "),
                others.join(", ")
            ));
        }
        let mut refused = got.refused;
        let readings = join(&got.rows, &mut choice, &mut refused);
        self.state.notes.extend(choice.notes);
        let zone = self.keeping.watershed.time_zone;
        let newest = readings.iter().map(|reading| local_date(&reading.time, zone)).max();
        self.state.newest_date = self.state.newest_date.max(newest);
        (self.state.etag, self.state.last_modified) = (got.validators.etag, got.validators.last_modified);
        let counts = self.keeping.put(&readings, self.state).await?;
        self.document.count(readings.len(), counts, &refused);
        Ok(())
    }
}
