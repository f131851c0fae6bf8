//! One gauge from its source.

use super::ask::AskFault;
use super::keep::Keeping;
use super::run::{Run, Stop};
use super::weather::Weather;
use super::{FetchFault, Sources};
use crate::app::AppError;
use crate::app::document::sync::{GaugeSyncDocument, SyncState};
use crate::clock::Clock;
use crate::domain::source::{Service, Source};
use crate::domain::{Gauge, Watershed};
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
    let failed_before = before.as_ref().is_some_and(|before| before.failure.is_some());
    let notes_before = before.as_ref().map(|before| before.notes.clone()).unwrap_or_default();
    let mut state = GaugeSync {
        tried_at: now,
        failure: None,
        notes: notes_on(&source, watershed),
        ..before.unwrap_or_else(|| GaugeSync::new(source.to_string(), now))
    };
    let first = state.done_at.is_none();
    let keeping = Keeping { db, watershed, gauge: &gauge.slug, origin: source.origin(), first, now };
    let work = async {
        if source.service.is_weather() {
            let weather = Weather {
                db,
                sources,
                source: &source,
                watershed,
                gauge,
                now,
                failed_before,
                notes_before: &notes_before,
            };
            weather.fetch(&mut state, &mut document).await
        } else {
            let keeping = keeping.clone();
            Run { sources, source: &source, keeping, state: &mut state, document: &mut document }.all().await
        }
    };
    // A service that trickles must not keep the others waiting; what is stored by then stays.
    let ended = tokio::time::timeout(sources.longest, work).await;
    let fault = match ended.unwrap_or(Err(Stop::Ask(AskFault::TooLong { minutes: sources.longest.as_secs() / 60 }))) {
        Ok(()) => None,
        Err(Stop::App(error)) => return Err(error),
        Err(Stop::Ask(fault)) => Some(fault),
    };
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
