//! `sync`: fetch readings from the sources of gauges.

use std::sync::Arc;

use super::args::SyncArgs;
use super::failure::{Failure, Mend as _};
use super::{open, output};
use crate::app::document::sync::{GaugeSyncDocument, SyncState};
use crate::app::sync::{self, SourceOptions, Sources, Wanted};
use crate::clock::SystemClock;
use crate::config::{Settings, SourceSettings};

/// Fetches, with one line per gauge on standard error. Fails when a source could not be read.
pub(super) async fn run(args: &SyncArgs, settings: &Settings) -> Result<(), Failure> {
    let sources = sources(&settings.sources)?;
    let db = open(settings).await?;
    let wanted = Wanted { watershed: None, gauge: args.gauge.clone() };
    let tell = |gauge: &GaugeSyncDocument| lines(gauge).iter().for_each(|line| output::note(line));
    let done = sync::sync(&db, &SystemClock, &sources, &wanted, &tell).await;
    db.close().await;
    let done = done.mend("Check the name of the gauge; `subimago import setup` declares gauges and their sources.")?;
    if args.json {
        output::json(&done)?;
    }
    if done.gauges.is_empty() {
        output::note("there are no gauges");
    }
    match done.failed {
        0 => Ok(()),
        failed => Err(Failure::message(format!("{failed} of {} gauges could not be fetched", done.gauges.len()))
            .with_mend("What was stored before stays; the next sync fills the gap.")),
    }
}

/// The services of the settings.
pub(super) fn sources(settings: &SourceSettings) -> Result<Sources, Failure> {
    let options = SourceOptions {
        contact: settings.contact.clone(),
        usgs_url: settings.usgs_url.clone(),
        usgs_key: settings.usgs_key.clone(),
        hubeau_url: settings.hubeau_url.clone(),
        smhi_url: settings.smhi_url.clone(),
        nws_url: settings.nws_url.clone(),
        met_norway_url: settings.met_norway_url.clone(),
        hosts: settings.hosts.clone(),
        history_years: settings.history_years,
        overlap_days: settings.overlap_days,
    };
    Sources::new(options, Arc::new(SystemClock)).mend("Check the section [sources] of the settings.")
}

/// What is told of a gauge.
fn lines(gauge: &GaugeSyncDocument) -> Vec<String> {
    let name = format!("{}/{}", gauge.watershed, gauge.gauge);
    let source = gauge.source.as_deref().unwrap_or_default();
    let counts = format!(
        "{} readings: {} new, {} changed, {} unchanged",
        gauge.fetched, gauge.created, gauge.updated, gauge.unchanged
    );
    let reason = gauge.reason.as_deref().unwrap_or_default();
    let mut lines = vec![match gauge.state {
        SyncState::Done => format!("{name}: {counts}, from {source}"),
        SyncState::Unchanged => format!("{name}: nothing new at {source}"),
        SyncState::NoSource => format!("{name}: names no source that can be asked"),
        SyncState::PutOff => format!("{name}: put off, {reason}; until then {counts}"),
        SyncState::Failed => format!("{name}: failed, {reason}; until then {counts}"),
    }];
    if !gauge.refused.is_empty() {
        let refused: Vec<String> = gauge.refused.iter().map(|(why, count)| format!("{count} {why}")).collect();
        lines.push(format!("{name}: refused {}", refused.join(", ")));
    }
    lines.extend(gauge.notes.iter().map(|note| format!("{name}: {note}")));
    lines
}
