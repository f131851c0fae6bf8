//! The course of fetching one gauge of water: which spans are asked, in which order, and what is kept.

use chrono::{Days, Months, NaiveDate, TimeDelta};

use super::Sources;
use super::ask::{AskFault, Got, Question, Window};
use super::keep::Keeping;
use crate::app::AppError;
use crate::app::document::sync::{GaugeSyncDocument, SyncState};
use crate::app::import_quality::local_date;
use crate::domain::source::{Service, Source};
use crate::ingest::client::Validators;
use crate::ingest::temperature::Measured;
use crate::ingest::temperature::series::{Choice, choose, join};
use crate::store::sync::GaugeSync;

/// Days after which daily values are read again from the beginning, and single readings, which are many.
const REREAD_DAYS: i64 = 30;
const REREAD_INSTANTS_DAYS: i64 = 120;

/// Why a gauge was not fetched to its end.
pub(super) enum Stop {
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

/// One gauge of water being fetched.
pub(super) struct Run<'a, 's> {
    pub(super) sources: &'a Sources,
    pub(super) source: &'a Source,
    pub(super) keeping: Keeping<'a>,
    pub(super) state: &'s mut GaugeSync,
    pub(super) document: &'s mut GaugeSyncDocument,
}

impl Run<'_, '_> {
    /// Fetches what is new, then what could not be read before.
    pub(super) async fn all(&mut self) -> Result<(), Stop> {
        let question = Question::of(self.sources, self.source, self.keeping.watershed.time_zone).await?;
        let whole = self.is_due_whole();
        let windows = question.windows(self.window(whole));
        if whole {
            // All of it is asked again.
            self.state.missing.clear();
        }
        let earlier = self.missing();
        // Which series to take is decided by the newest values, though the oldest are stored first.
        let mut newest = None;
        if self.state.series.is_empty()
            && let [_, .., last] = windows.as_slice()
        {
            let got = question.ask(*last, &Validators::default()).await?;
            self.choose(&got.rows);
            newest = Some(got);
        }
        let known = if whole { Validators::default() } else { self.validators() };
        let first = self.keeping.first;
        for (index, window) in windows.iter().enumerate() {
            let last = index + 1 == windows.len();
            let got = match newest.take_if(|_| last) {
                Some(got) => Ok(got),
                None => question.ask(*window, &known).await,
            };
            match got {
                Ok(got) => self.take(got, *window).await?,
                Err(fault) if last || fault.is_of_the_service() => return Err(fault.into()),
                Err(fault) => self.miss(*window, &fault),
            }
        }
        // History that comes late is history all the same.
        self.keeping.first = true;
        for window in earlier {
            match question.ask(window, &Validators::default()).await {
                Ok(got) => {
                    self.state.missing.retain(|text| *text != window.to_string());
                    self.take(got, window).await?;
                }
                Err(fault) => self.miss(window, &fault),
            }
        }
        self.keeping.first = first;
        if whole {
            self.state.reread_at = Some(self.keeping.now);
        }
        Ok(())
    }

    /// Remembers a span of the history that cannot be read, so that it does not hold up what came after it.
    fn miss(&mut self, window: Window, fault: &AskFault) {
        if !self.missing().contains(&window) {
            self.state.missing.push(window.to_string());
        }
        let Window { from, to } = window;
        let note = format!("{from} to {to} could not be read: {fault}. It is tried again at the next fetch.");
        self.state.notes.push(note);
    }

    fn missing(&self) -> Vec<Window> {
        self.state.missing.iter().filter_map(|text| Window::parse(text)).collect()
    }

    /// True the first time and every so often from then on: services revise years later, and what lies before
    /// the overlap is seen in no other way.
    fn is_due_whole(&self) -> bool {
        let days = if self.source.continuous || self.source.service == Service::SensorThings {
            REREAD_INSTANTS_DAYS
        } else {
            REREAD_DAYS
        };
        let last = self.state.reread_at.or(self.state.done_at);
        last.is_none_or(|last| self.keeping.now - last >= TimeDelta::days(days)) && self.may_start_over()
    }

    /// False while a first fetch goes on that was broken off: it goes on from where it was.
    fn may_start_over(&self) -> bool {
        self.state.done_at.is_some() || self.state.newest_date.is_none()
    }

    /// From what was fetched last, with an overlap for late revisions, to today everywhere; from the beginning
    /// when `whole`.
    fn window(&self, whole: bool) -> Window {
        let options = &self.sources.options;
        let today = self.keeping.now.date_naive();
        let to = today + Days::new(1);
        let since = self.source.since.unwrap_or(NaiveDate::MIN);
        let from = match self.state.newest_date.filter(|_| !whole) {
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
    async fn take(&mut self, got: Got, window: Window) -> Result<(), Stop> {
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
        let (counts, note) = self.keeping.put(&readings, window, self.state).await?;
        self.state.notes.extend(note);
        self.document.count(readings.len(), counts, &refused);
        Ok(())
    }
}
