//! `import`: setups, readings and records from files and archives.

use std::fs::File;
use std::io::{Cursor, Read as _, Seek as _};
use std::path::Path;
use std::sync::OnceLock;

use super::args::{ImportArgs, ImportCommand, TableArgs};
use super::failure::{Failure, Mend as _};
use super::open;
use super::output::{self, Progress};
use super::readings_args::ReadingsArgs;
use super::records_args::RightsArgs;
use crate::app::document::ImportDocument;
use crate::app::drift::{DriftTally, judge_drift};
use crate::app::import::{By, ColumnNames, ImportOptions, ReadSeek, import_readings_by, import_records_by, read_map};
use crate::app::import_archive::import_archive_by;
use crate::app::import_foreign::{self, Said};
use crate::app::setup::import_setup;
use crate::app::{AppError, Db};
use crate::clock::{Clock as _, SystemClock};
use crate::config::Settings;
use crate::domain::{Quantity, Rights};

/// Faults shown; the rest is counted. `--json` gives more.
const SHOWN: usize = 50;

/// Rows from which an import tells how far it is; fewer take no time.
const TOLD_FROM: u64 = 10_000;

/// Runs one of the imports.
pub(super) async fn run(command: &ImportCommand, settings: &Settings) -> Result<(), Failure> {
    let (how, path) = match command {
        ImportCommand::Setup(args) => (&args.how, args.file.as_path()),
        ImportCommand::Readings(args) => (&args.table.how, args.table.file.as_path()),
        ImportCommand::Records(args) => (&args.table.how, args.table.file.as_path()),
        ImportCommand::Archive(args) => (&args.how, args.file.as_path()),
    };
    // Files first, so that a misspelt name makes no database.
    let mut file: Box<dyn ReadSeek> = Box::new(open_file(path)?);
    let options = match command {
        ImportCommand::Setup(_) => options(how, path),
        ImportCommand::Readings(args) => {
            if args.form.is_some() && args.quantity != Quantity::WaterTemperature {
                return Err(Failure::usage(anyhow::anyhow!(
                    "files in other forms are read for water temperature only"
                )));
            }
            let options = ImportOptions { quantity: args.quantity, ..table_options(&args.table)? };
            match in_our_form(args, &mut file)? {
                Some(converted) => {
                    file = Box::new(Cursor::new(converted));
                    ImportOptions { columns: ColumnNames::default(), ..options }
                }
                None => options,
            }
        }
        ImportCommand::Records(args) => {
            let options = ImportOptions { separate_visits: args.separate_visits, ..table_options(&args.table)? };
            with_rights(options, &args.rights)?
        }
        ImportCommand::Archive(args) => {
            with_rights(with_map(options(&args.how, &args.file), args.map.as_deref())?, &args.rights)?
        }
    };
    let db = open(settings).await?;
    let done = import(&db, command, file, &options).await;
    let drift = match (&done, command) {
        (Ok(document), ImportCommand::Readings(args)) if is_news(document, &options) => {
            judge_drift(&db, &args.table.watershed, SystemClock.now()).await
        }
        _ => Ok(DriftTally::default()),
    };
    db.close().await;
    let drift = drift.mend("The readings are stored; only the check for drifting loggers failed.")?;
    if drift.doubted > 0 {
        output::note(&format!("{} stored readings are doubted now, since their logger drifts", drift.doubted));
    }
    tell(&done.mend("Declare the watershed first: subimago import setup FILE.toml")?, how.json)
}

/// True when an import stored temperatures that may show a drift.
fn is_news(document: &ImportDocument, options: &ImportOptions) -> bool {
    let temperature = options.quantity.is_temperature();
    temperature && document.accepted && !document.dry_run && document.created + document.updated > 0
}

async fn import(
    db: &Db,
    command: &ImportCommand,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
) -> Result<ImportDocument, AppError> {
    let progress = OnceLock::new();
    let told = |done, total| {
        if total >= TOLD_FROM {
            progress.get_or_init(|| Progress::start(&format!("storing {}", options.file))).at(done, total);
        }
    };
    let by = By::Caller(&told);
    let done = import_by(db, command, file, options, by).await;
    if let Some(progress) = progress.get() {
        progress.finish();
    }
    done
}

async fn import_by(
    db: &Db,
    command: &ImportCommand,
    file: Box<dyn ReadSeek>,
    options: &ImportOptions,
    by: By<'_>,
) -> Result<ImportDocument, AppError> {
    let clock = &SystemClock;
    match command {
        ImportCommand::Setup(_) => import_setup(db, file, options).await,
        ImportCommand::Readings(args) => import_readings_by(db, clock, &args.table.watershed, file, options, by).await,
        ImportCommand::Records(args) => import_records_by(db, clock, &args.table.watershed, file, options, by).await,
        ImportCommand::Archive(args) => {
            let done = import_archive_by(db, clock, &args.watershed, file, options, by).await?;
            done.notes.iter().for_each(|note| output::note(&format!("{}: {note}", options.file)));
            Ok(done.document)
        }
    }
}

/// Bytes by which our own form is known.
const HEAD_BYTES: u64 = 64 * 1024;
/// Most bytes of a file in another form.
const FOREIGN_BYTES: u64 = 50 * 1024 * 1024;

/// The rows of a file that is in another form and confirmed to be so; `None` for our own form.
fn in_our_form(args: &ReadingsArgs, file: &mut Box<dyn ReadSeek>) -> Result<Option<Vec<u8>>, Failure> {
    let mut bytes = Vec::new();
    if args.form.is_none() {
        // Our own form is known by its first lines; the rest is not to stand in memory.
        file.by_ref().take(HEAD_BYTES).read_to_end(&mut bytes)?;
        file.rewind()?;
        if !args.table.columns.is_empty() || import_foreign::is_ours(&bytes) {
            return Ok(None);
        }
        bytes.clear();
    }
    file.by_ref().take(FOREIGN_BYTES + 1).read_to_end(&mut bytes)?;
    file.rewind()?;
    let name = args.table.file.display();
    if bytes.len() as u64 > FOREIGN_BYTES {
        // The import says so in its own words.
        return Ok(None);
    }
    let Some(form) = args.form else {
        let Some(mut lines) = import_foreign::told(&bytes) else { return Ok(None) };
        let confirm = lines.pop().unwrap_or_default();
        for line in &lines {
            output::note(&format!("{name}: {line}"));
        }
        return Err(
            Failure::message(format!("{name} is not of our own form, and nothing was stored")).with_mend(confirm)
        );
    };
    let said = Said {
        gauge: args.gauge.clone(),
        style: args.dates,
        zone: args.zone,
        scale: args.unit,
        column: args.table.columns.iter().find(|(ours, _)| ours == "value_c").map(|(_, theirs)| theirs.clone()),
        series: args.series.clone(),
    };
    let converted = import_foreign::convert(&bytes, form, &said, SystemClock.now()).map_err(|why| {
        Failure::message(format!("{name}: {why}")).with_mend("Leave --form out to see what the file says.")
    })?;
    for note in &converted.notes {
        output::note(&format!("{name}: {note}"));
    }
    Ok(Some(converted.csv.into_bytes()))
}

fn open_file(path: &Path) -> Result<File, Failure> {
    File::open(path)
        .doing(format!("cannot read {}", path.display()))
        .mend("Check the name of the file and that you may read it.")
}

fn options(how: &ImportArgs, path: &Path) -> ImportOptions {
    let file = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    ImportOptions { dry_run: how.dry_run, best_effort: how.best_effort, file, ..ImportOptions::default() }
}

fn table_options(args: &TableArgs) -> Result<ImportOptions, Failure> {
    let mut options = options(&args.how, &args.file);
    options.columns = ColumnNames::new(args.columns.iter().map(|(ours, theirs)| (ours.as_str(), theirs.as_str())))
        .map_err(Failure::usage)?;
    with_map(options, args.map.as_deref())
}

fn with_rights(options: ImportOptions, args: &RightsArgs) -> Result<ImportOptions, Failure> {
    let rights = Rights::new(args.licence.clone(), args.citation.clone()).map_err(Failure::usage)?;
    Ok(ImportOptions { rights, ..options })
}

fn with_map(mut options: ImportOptions, map: Option<&Path>) -> Result<ImportOptions, Failure> {
    if let Some(path) = map {
        options.map = read_map(open_file(path)?).map_err(|faults| {
            let lines: Vec<String> = faults.iter().take(SHOWN).map(ToString::to_string).collect();
            Failure::message(format!("{}: {}", path.display(), lines.join("; ")))
                .with_mend("The table of codes has the columns column,from,to.")
        })?;
    }
    Ok(options)
}

/// Tells what an import did; a refused file is a failure.
fn tell(document: &ImportDocument, json: bool) -> Result<(), Failure> {
    for fault in document.faults.iter().take(SHOWN) {
        output::note(&format!("{}: {fault}", document.file));
    }
    let more = document.fault_count.saturating_sub(SHOWN as u64);
    if more > 0 {
        output::note(&format!("... and {more} more faults"));
    }
    if !document.unknown_columns.is_empty() {
        output::note(&format!("ignored, since unknown here: {}", document.unknown_columns.join(", ")));
    }
    if document.flagged_count > 0 {
        output::note(&format!("{} readings are kept but not used: they look wrong", document.flagged_count));
    }
    if document.doubtful_count > 0 {
        output::note(&format!("{} records are kept with doubts", document.doubtful_count));
    }
    if json {
        output::json(document)?;
    } else if document.accepted {
        output::result(&summary(document))?;
    }
    if document.accepted {
        return Ok(());
    }
    Err(Failure::message(format!("{} was refused whole: {} faults", document.file, document.fault_count)).with_mend(
        if document.best_effort {
            "Mend the lines above."
        } else {
            "Mend the lines above, or store what is good alone with --best-effort."
        },
    ))
}

fn summary(document: &ImportDocument) -> String {
    let stored = if document.dry_run { "would be" } else { "are" };
    format!(
        "{} {} of {}: {} {stored} new, {} changed, {} unchanged, {} rejected",
        document.total,
        document.kind,
        document.watershed,
        document.created,
        document.updated,
        document.unchanged,
        document.rejected
    )
}
