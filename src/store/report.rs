//! Field reports and the history of their edits.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::arg::args;
use super::keys::{need_token, reach_id, watershed_id};
use super::report_document::report_document;
use super::report_parts::{COLUMNS, delete_parts, insert_parts, read_reports};
use super::report_photo::delete_photo;
use super::since::cut_off;
use super::{StoreError, Tx};
use crate::domain::report::ReportAction;
use crate::domain::{Report, Slug};

pub use super::report_history::{report_revisions, revisions_of};
pub use super::report_list::{Page, ReportCursor, ReportFilter, reports, waiting_reports};

/// What a report said before a change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Revision {
    /// The version that was replaced.
    pub version: u32,
    /// When.
    pub changed_at: DateTime<Utc>,
    /// By which token.
    pub changed_by: Uuid,
    /// Why, where said.
    pub reason: Option<String>,
    /// What kind of change it was; `None` in rows of earlier versions of the program.
    pub action: Option<ReportAction>,
    /// The replaced report as JSON text.
    pub document_json: String,
}

/// Who changes a report, when and why.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Change<'a> {
    /// The token.
    pub by: Uuid,
    /// When.
    pub at: DateTime<Utc>,
    /// Why, where said.
    pub reason: Option<&'a str>,
    /// What kind of change it is.
    pub action: ReportAction,
}

/// Stores a new report.
///
/// # Errors
/// [`StoreError::Conflict`] when a report of that id was ever stored, withdrawn ones included;
/// [`StoreError::UnknownReference`] for the watershed, reach, token or a taxon.
pub async fn insert_report(tx: &mut Tx, report: &Report) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO report (id, watershed_id, reach_id, started_at, ended_at, people, looked_for_all, \
        water_c, sky, note, state, received_at, token_id, version) \
        VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14) ON CONFLICT (id) DO NOTHING";
    let watershed_id = watershed_id(tx, &report.watershed).await?;
    let reach_id = reach_id(tx, watershed_id, &report.reach).await?;
    need_token(tx, report.token_id).await?;
    let args = args![
        report.id,
        watershed_id,
        reach_id,
        report.started_at,
        report.ended_at,
        report.people,
        report.looked_for.is_none(),
        report.water_c,
        &report.sky,
        &report.note,
        report.state.as_str(),
        report.received_at,
        report.token_id,
        report.version,
    ];
    if tx.execute(SQL, args).await? == 0 {
        return Err(StoreError::conflict("report"));
    }
    insert_parts(tx, report).await
}

/// The report of that id, unless withdrawn.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_report(tx: &mut Tx, id: Uuid) -> Result<Option<Report>, StoreError> {
    const SQL: &str = concat!(
        "SELECT ",
        COLUMNS!(),
        " FROM report p JOIN watershed w ON w.id = p.watershed_id JOIN reach e ON e.id = p.reach_id ",
        "WHERE p.id = $1 AND p.withdrawn_at IS NULL"
    );
    let rows = tx.rows("report", SQL, args![id]).await?;
    Ok(read_reports(tx, &rows).await?.pop())
}

/// When the report of that id was withdrawn; `None` when it is there or never was.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn report_withdrawn_at(tx: &mut Tx, id: Uuid) -> Result<Option<DateTime<Utc>>, StoreError> {
    let row = tx.row("report", "SELECT id, withdrawn_at FROM report WHERE id = $1", args![id]).await?;
    row.map_or(Ok(None), |row| row.opt_instant("withdrawn_at"))
}

/// Replaces a report by `report`, whose `version` must be the stored one, and files what it said
/// before. Identifier, sender and time of receipt stay. Returns the new version.
///
/// # Errors
/// [`StoreError::Conflict`] when the stored version is another;
/// [`StoreError::UnknownReference`] for the report, its reach, a taxon or the changing token.
pub async fn replace_report(tx: &mut Tx, report: &Report, change: Change<'_>) -> Result<u32, StoreError> {
    const SQL: &str = "UPDATE report SET reach_id = $3, started_at = $4, ended_at = $5, people = $6, \
        looked_for_all = $7, water_c = $8, sky = $9, note = $10, state = $11, version = version + 1 \
        WHERE id = $1 AND version = $2 AND withdrawn_at IS NULL";
    let stored = find_report(tx, report.id).await?.ok_or_else(|| StoreError::unknown("report", &report.id))?;
    let watershed_id = watershed_id(tx, &stored.watershed).await?;
    let reach_id = reach_id(tx, watershed_id, &report.reach).await?;
    need_token(tx, change.by).await?;
    let args = args![
        report.id,
        report.version,
        reach_id,
        report.started_at,
        report.ended_at,
        report.people,
        report.looked_for.is_none(),
        report.water_c,
        &report.sky,
        &report.note,
        report.state.as_str(),
    ];
    if tx.execute(SQL, args).await? == 0 {
        return Err(StoreError::conflict("report version"));
    }
    file_revision(tx, &stored, change).await?;
    delete_parts(tx, report.id).await?;
    insert_parts(tx, report).await?;
    Ok(report.version + 1)
}

/// Withdraws a report: it leaves every list, its id stays taken, what it said is filed, its photo is gone.
///
/// # Errors
/// [`StoreError::Conflict`] when the stored version is not `version`;
/// [`StoreError::UnknownReference`] for the report or the changing token.
pub async fn withdraw_report(tx: &mut Tx, id: Uuid, version: u32, change: Change<'_>) -> Result<(), StoreError> {
    const SQL: &str = "UPDATE report SET withdrawn_at = $3, version = version + 1 \
        WHERE id = $1 AND version = $2 AND withdrawn_at IS NULL";
    let stored = find_report(tx, id).await?.ok_or_else(|| StoreError::unknown("report", &id))?;
    need_token(tx, change.by).await?;
    if tx.execute(SQL, args![id, version, change.at]).await? == 0 {
        return Err(StoreError::conflict("report version"));
    }
    delete_photo(tx, id).await?;
    file_revision(tx, &stored, change).await
}

async fn file_revision(tx: &mut Tx, stored: &Report, change: Change<'_>) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO report_revision (report_id, version, changed_at, changed_by, reason, document, \
        action) VALUES ($1, $2, $3, $4, $5, $6, $7)";
    let (document, action) = (report_document(stored), change.action.as_str());
    let args = args![stored.id, stored.version, change.at, change.by, change.reason, document, action];
    tx.execute(SQL, args).await?;
    Ok(())
}

/// The reports of `watershed` that models use: accepted, not withdrawn, received not after
/// `known_by` (all when `None`); earliest visit first.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn accepted_reports(
    tx: &mut Tx,
    watershed: &Slug,
    known_by: Option<DateTime<Utc>>,
) -> Result<Vec<Report>, StoreError> {
    const SQL: &str = concat!(
        "SELECT ",
        COLUMNS!(),
        " FROM report p JOIN watershed w ON w.id = p.watershed_id JOIN reach e ON e.id = p.reach_id ",
        "WHERE p.watershed_id = $1 AND p.state = 'accepted' AND p.withdrawn_at IS NULL AND p.received_at <= $2 ",
        "ORDER BY p.started_at, p.id"
    );
    let watershed_id = watershed_id(tx, watershed).await?;
    let rows = tx.rows("report", SQL, args![watershed_id, cut_off(known_by)]).await?;
    read_reports(tx, &rows).await
}
