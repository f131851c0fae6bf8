//! `fit`: fit every taxon and brood of a watershed.

use super::args::FitArgs;
use super::failure::{Failure, Mend as _};
use super::open;
use super::output::{self, Progress};
use crate::app::Db;
use crate::app::document::{FitDocument, List};
use crate::app::fit::{FitRequest, TaxonOutcome, fit_watershed};
use crate::clock::SystemClock;
use crate::config::Settings;

/// Fits, with one line per taxon and brood on standard error. Fails when a taxon ended without a fit.
pub(super) async fn run(args: &FitArgs, settings: &Settings) -> Result<(), Failure> {
    let db = open(settings).await?;
    let request = FitRequest { watershed: args.watershed.clone(), taxon: args.taxon.clone(), through: args.through };
    let outcomes = with_progress(&db, &request).await;
    db.close().await;
    let outcomes = outcomes?;
    if args.json {
        output::json(&List::whole(outcomes.iter().filter_map(|o| o.fit.as_ref()).map(FitDocument::from).collect()))?;
    }
    let without: Vec<String> = outcomes.iter().filter(|o| o.fit.is_none()).map(name).collect();
    if without.is_empty() {
        return Ok(());
    }
    Err(Failure::message(format!("no clock could carry the data of {}", without.join(", ")))
        .with_mend("Import water temperatures for the seasons of its records, or give its season window."))
}

/// Fits with progress shown.
pub(super) async fn with_progress(db: &Db, request: &FitRequest) -> Result<Vec<TaxonOutcome>, Failure> {
    let progress = Progress::start(&format!("fitting {}", request.watershed));
    let outcomes = fit_watershed(db, &SystemClock, request, &|outcome| progress.step(&line(outcome))).await;
    progress.finish();
    outcomes.mend(NAMES)
}

const NAMES: &str = "Check the names of watershed and taxon; `subimago import setup` declares them.";

fn name(outcome: &TaxonOutcome) -> String {
    format!("{} brood {}", outcome.taxon, outcome.brood)
}

/// One line about one outcome.
pub(super) fn line(outcome: &TaxonOutcome) -> String {
    let Some(fit) = &outcome.fit else { return format!("{}: not fitted", name(outcome)) };
    let how = if fit.prior_driven { "prior-driven" } else { "fitted" };
    let mut text = format!("{}: {how}, {} records in {} years", name(outcome), fit.records, fit.years);
    if fit.beats_calendar {
        text.push_str(", better than the calendar");
    }
    for warning in &fit.warnings {
        text.push_str("; ");
        text.push_str(warning);
    }
    text
}
