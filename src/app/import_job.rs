//! Imports that outlive the request that sent the file: it is kept in parts, and a worker takes it from there.

use std::fs::File;
use std::io::{Read as _, Seek as _, SeekFrom, Write as _};

use serde::{Deserialize, Serialize};
use tokio::task::spawn_blocking;
use uuid::Uuid;

use super::document::{ImportDocument, JobDocument};
use super::import::{By, ColumnNames, ImportOptions, ReadSeek, import_readings_by, import_records_by, read_map};
use super::import_end::as_result;
use super::jobs::IMPORT;
use super::once::{Answer, Once};
use super::{AppError, Service};
use crate::clock::Clock;
use crate::domain::job::Job;
use crate::domain::{Quantity, Rights, Slug};
use crate::store::{Db, import_part, job};

pub use crate::ingest::csv::scan::MAX_BYTES;

/// Bytes of one part.
const PART: usize = 1024 * 1024;
/// Most files that wait at once.
const MOST_WAITING: u64 = 4;
/// Seconds after which another file may be sent.
const WAIT_S: u64 = 30;

/// What a file of an import holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FileOf {
    /// Readings of one quantity.
    Readings,
    /// Visits, traps and first sightings.
    Records,
}

impl FileOf {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 2] = [(Self::Readings, "readings"), (Self::Records, "records")];
}

/// Arguments of an import job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ImportArguments {
    /// What the file holds.
    pub of: FileOf,
    /// Word of the quantity that readings state.
    pub quantity: String,
    /// Do everything but store.
    pub dry_run: bool,
    /// Store the good rows when some are wrong.
    pub best_effort: bool,
    /// As [`ImportOptions::separate_visits`].
    pub separate_visits: bool,
    /// Names of columns, `ours=theirs,...`.
    pub columns: String,
    /// Rows `column,from,to` of a table of codes.
    pub map: Vec<String>,
    /// Name of the file.
    pub file: String,
    /// Licence of its records.
    #[serde(default)]
    pub licence: Option<String>,
    /// How to cite them.
    #[serde(default)]
    pub citation: Option<String>,
}

impl ImportArguments {
    /// How the file is to be taken.
    ///
    /// # Errors
    /// Which argument cannot be read, and why in words.
    pub fn options(&self) -> Result<ImportOptions, (&'static str, String)> {
        let map = format!("column,from,to\n{}\n", self.map.join("\n"));
        let map = read_map(std::io::Cursor::new(map)).map_err(|faults| {
            ("map", faults.iter().map(|fault| fault.reason.clone()).collect::<Vec<_>>().join("; "))
        })?;
        Ok(ImportOptions {
            dry_run: self.dry_run,
            best_effort: self.best_effort,
            separate_visits: self.separate_visits,
            columns: ColumnNames::parse(&self.columns).map_err(|invalid| ("columns", invalid.to_string()))?,
            map,
            quantity: Quantity::parse(&self.quantity).map_err(|invalid| ("quantity", invalid.to_string()))?,
            file: self.file.clone(),
            rights: Rights::new(self.licence.clone(), self.citation.clone())
                .map_err(|invalid| (invalid.field, invalid.reason))?,
        })
    }
}

/// Keeps `file`, which stands at its beginning, and queues its import.
///
/// # Errors
/// One fault for a file that is no text; [`AppError::TooMany`] while others wait; [`AppError::Store`].
pub async fn request_import(
    service: &Service,
    watershed: &Slug,
    arguments: &ImportArguments,
    file: File,
    once: &Once,
) -> Result<Answer, AppError> {
    let text = serde_json::to_string(arguments).map_err(|error| AppError::Internal(error.to_string()))?;
    let (mut tx, now) = (service.db().write().await?, service.now());
    if let Some(answer) = once.begin(&mut tx, now).await? {
        return Ok(answer);
    }
    if import_part::tidy_parts(&mut tx).await? >= MOST_WAITING {
        return Err(AppError::TooMany { detail: "Other files wait to be imported.", retry_after_s: WAIT_S });
    }
    let job = job::enqueue_job(&mut tx, Uuid::now_v7(), watershed, IMPORT, &text, now).await?;
    let mut parts = Parts { file, carried: Vec::new(), line: 1 };
    for number in 0.. {
        let read = spawn_blocking(move || parts.next().map(|part| (part, parts)));
        let (part, rest) = read.await.map_err(|_| AppError::Internal("a file was cut off".to_owned()))??;
        // An empty file has one part, so that it is known to be there.
        if part.is_empty() && number > 0 {
            break;
        }
        import_part::put_part(&mut tx, job.id, number, &part).await?;
        parts = rest;
    }
    let answer = once.end(&mut tx, 202, &JobDocument::from(&job), Some(format!("/v1/imports/{}", job.id))).await?;
    tx.commit().await?;
    Ok(answer)
}

/// A file as text, part by part.
struct Parts {
    file: File,
    /// Bytes of a letter that the last part ended in.
    carried: Vec<u8>,
    line: u64,
}

impl Parts {
    /// The next part; empty at the end, and only there.
    fn next(&mut self) -> Result<String, AppError> {
        let mut bytes = std::mem::take(&mut self.carried);
        let unreadable = |error: std::io::Error| AppError::Internal(format!("a file that was sent: {error}"));
        let read = (&mut self.file).take((PART - bytes.len()) as u64).read_to_end(&mut bytes).map_err(unreadable)?;
        let (good, broken) = match std::str::from_utf8(&bytes) {
            Ok(_) => (bytes.len(), false),
            Err(error) => (error.valid_up_to(), error.error_len().is_some() || read == 0),
        };
        self.carried = bytes.split_off(good);
        if good == 0 && !broken && !self.carried.is_empty() {
            // Only the beginning of a letter: what follows it decides, or that nothing does.
            return self.next();
        }
        let part = String::from_utf8(bytes).map_err(|error| AppError::Internal(error.to_string()))?;
        let nul = part.find('\0');
        if broken || nul.is_some() {
            let line = self.line + newlines(&part[..nul.unwrap_or(part.len())]);
            let reason = if nul.is_some() { "holds a NUL character" } else { "is not UTF-8 text" };
            return Err(AppError::fault("#", "not_utf8", format!("{reason} in line {line}; save the file as UTF-8")));
        }
        self.line += newlines(&part);
        Ok(part)
    }
}

fn newlines(text: &str) -> u64 {
    text.bytes().filter(|byte| *byte == b'\n').count() as u64
}

/// Imports the file of `job`. What it stores and the end of the job are one; a refused file, or a trial, leaves the
/// end to the worker. Returns the result of the job.
///
/// # Errors
/// [`AppError::Internal`] when the file or the arguments are gone; those of the import.
pub(super) async fn run_import(db: &Db, clock: &dyn Clock, job: &Job) -> Result<String, AppError> {
    let arguments: ImportArguments = serde_json::from_str(&job.arguments_json)
        .map_err(|error| AppError::Internal(format!("the job's arguments cannot be read: {error}")))?;
    let options = arguments.options().map_err(|(_, reason)| AppError::Internal(reason))?;
    let file = put_together(db, job).await?;
    let by = By::Job(job);
    let document: ImportDocument = match arguments.of {
        FileOf::Readings => import_readings_by(db, clock, &job.watershed, file, &options, by).await?,
        FileOf::Records => import_records_by(db, clock, &job.watershed, file, &options, by).await?,
    };
    as_result(&document)
}

/// The file of `job`, in a temporary one that nobody else sees.
async fn put_together(db: &Db, job: &Job) -> Result<Box<dyn ReadSeek>, AppError> {
    let failed = |error: std::io::Error| AppError::Internal(format!("a temporary file: {error}"));
    let cut_off = |_| AppError::Internal("a file was cut off".to_owned());
    let mut file = tempfile::tempfile().map_err(failed)?;
    let mut tx = db.read().await?;
    let mut number = 0;
    while let Some(part) = import_part::find_part(&mut tx, job.id, number).await? {
        file = spawn_blocking(move || file.write_all(part.as_bytes()).map(|()| file))
            .await
            .map_err(cut_off)?
            .map_err(failed)?;
        number += 1;
    }
    if number == 0 {
        return Err(AppError::Internal("the file of this job is gone; send it again".to_owned()));
    }
    file.seek(SeekFrom::Start(0)).map_err(failed)?;
    Ok(Box::new(file))
}

#[cfg(test)]
mod tests {
    use std::io::{Seek as _, Write as _};

    use super::*;

    /// The text of the parts of a file that holds `bytes`.
    fn text_of(bytes: &[u8]) -> Result<String, AppError> {
        let mut file = tempfile::tempfile().expect("a file");
        file.write_all(bytes).expect("written");
        file.rewind().expect("at its beginning");
        let (mut parts, mut text) = (Parts { file, carried: Vec::new(), line: 1 }, String::new());
        loop {
            let part = parts.next()?;
            if part.is_empty() {
                return Ok(text);
            }
            text += &part;
        }
    }

    #[test]
    fn letters_across_the_end_of_a_part_are_kept_and_cut_off_ones_refused() {
        for letter in ["\u{e9}", "\u{20ac}", "\u{1f41f}"] {
            for bytes_before in 1..letter.len() {
                let mut table = "x".repeat(PART - bytes_before) + letter;
                assert!(text_of(table.as_bytes()).is_ok_and(|text| text == table), "{letter} after {bytes_before}");
                // The same letter as the last of the file, whole and cut off where a part ends.
                table = "x".repeat(PART) + letter;
                assert!(text_of(table.as_bytes()).is_ok_and(|text| text == table), "{letter}");
                let cut_off = &table.as_bytes()[..PART + bytes_before];
                let Err(AppError::Faults(faults)) = text_of(cut_off) else { panic!("{letter}: no fault") };
                assert!(faults.into_vec()[0].detail.contains("line 1"), "{letter}");
            }
        }
        assert!(text_of(b"").is_ok_and(|text| text.is_empty()));
        assert!(text_of(&[0xc3]).is_err());
    }
}
