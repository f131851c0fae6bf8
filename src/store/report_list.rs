//! Lists of reports with filters, page by page.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::arg::args;
use super::keys::watershed_id;
use super::report_parts::{COLUMNS, read_reports};
use super::since::keys;
use super::{Span, StoreError, Tx};
use crate::domain::{Report, ReportState, Slug};

/// Which reports to list; what is `None` does not limit.
#[derive(Debug, Clone, PartialEq)]
pub struct ReportFilter {
    /// Of this watershed.
    pub watershed: Option<Slug>,
    /// Of this reach of it.
    pub reach: Option<Slug>,
    /// With a sighting of this taxon.
    pub taxon: Option<Slug>,
    /// In this state.
    pub state: Option<ReportState>,
    /// Sent with this token.
    pub token_id: Option<Uuid>,
    /// Started within.
    pub started: Span<DateTime<Utc>>,
    /// Only those that wait for a keeper: new, questioned, or accepted as they came and not looked at since they last
    /// changed.
    pub waiting: bool,
}

impl Default for ReportFilter {
    fn default() -> Self {
        Self {
            watershed: None,
            reach: None,
            taxon: None,
            state: None,
            token_id: None,
            started: Span::all(),
            waiting: false,
        }
    }
}

/// Place of a report in the order of lists: newest visit first, then by id.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReportCursor {
    /// Its start.
    pub started_at: DateTime<Utc>,
    /// Its id.
    pub id: Uuid,
}

impl ReportCursor {
    /// The place of `report`.
    #[must_use]
    pub fn of(report: &Report) -> Self {
        Self { started_at: report.started_at, id: report.id }
    }
}

/// Which part of a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Page {
    /// From the newest on.
    First,
    /// Next after this place.
    After(ReportCursor),
    /// Last before this place.
    Before(ReportCursor),
}

/// Whether report `p` waits for a keeper. Its last change settles it when it was a decision, or an edit by someone else
/// than its sender; what a keeper sent is settled from the start.
macro_rules! WAITING {
    () => {
        "(p.state IN ('new', 'needs_info') OR (p.state = 'accepted' AND \
         (SELECT t.role FROM token t WHERE t.id = p.token_id) <> 'keeper' AND COALESCE((SELECT CASE \
         WHEN v.action = 'decision' THEN 1 WHEN v.action = 'undo' THEN 0 WHEN v.changed_by <> p.token_id THEN 1 ELSE 0 END \
         FROM report_revision v WHERE v.report_id = p.id ORDER BY v.version DESC LIMIT 1), 0) = 0))"
    };
}

/// How many reports of `watershed` wait for a keeper.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn waiting_reports(tx: &mut Tx, watershed: &Slug) -> Result<u64, StoreError> {
    const SQL: &str = concat!(
        "SELECT count(*) AS waiting FROM report p WHERE p.watershed_id = $1 AND p.withdrawn_at IS NULL AND ",
        WAITING!()
    );
    let watershed_id = watershed_id(tx, watershed).await?;
    let row = tx.row("report", SQL, args![watershed_id]).await?;
    row.map_or(Ok(0), |row| row.number("waiting"))
}

/// Up to `limit` reports, newest visit first, withdrawn ones left out. A report that is there all
/// the while a list is paged through is neither skipped nor repeated.
///
/// # Errors
/// [`StoreError`] of the database. A slug that nothing bears gives an empty list.
pub async fn reports(tx: &mut Tx, filter: &ReportFilter, page: Page, limit: u32) -> Result<Vec<Report>, StoreError> {
    macro_rules! list {
        ($compare:literal, $order:literal) => {
            concat!(
                "SELECT ",
                COLUMNS!(),
                " FROM report p JOIN watershed w ON w.id = p.watershed_id JOIN reach e ON e.id = p.reach_id ",
                "WHERE p.withdrawn_at IS NULL AND ($1 IS NULL OR w.slug_key = $1) AND ($2 IS NULL OR e.slug_key = $2) ",
                "AND ($3 IS NULL OR EXISTS (SELECT 1 FROM sighting s JOIN taxon t ON t.id = s.taxon_id ",
                "WHERE s.report_id = p.id AND t.slug_key = $3)) ",
                "AND ($4 IS NULL OR p.state = $4) AND ($5 IS NULL OR p.token_id = $5) ",
                "AND p.started_at >= $6 AND p.started_at <= $7 AND ($11 = 0 OR ",
                WAITING!(),
                ") ",
                "AND ($8 IS NULL OR (p.started_at, p.id) ",
                $compare,
                " ($8, $9)) ORDER BY p.started_at ",
                $order,
                ", p.id ",
                $order,
                " LIMIT $10"
            )
        };
    }
    let (sql, cursor) = match page {
        Page::First => (list!("<", "DESC"), None),
        Page::After(cursor) => (list!("<", "DESC"), Some(cursor)),
        Page::Before(cursor) => (list!(">", "ASC"), Some(cursor)),
    };
    let (from, to) = keys(filter.started, |at| at.timestamp_micros());
    let args = args![
        filter.watershed.as_ref().map(Slug::key),
        filter.reach.as_ref().map(Slug::key),
        filter.taxon.as_ref().map(Slug::key),
        filter.state.map(ReportState::as_str),
        filter.token_id,
        from,
        to,
        cursor.map(|cursor| cursor.started_at),
        cursor.map(|cursor| cursor.id),
        limit,
        filter.waiting,
    ];
    let rows = tx.rows("report", sql, args).await?;
    let mut reports = read_reports(tx, &rows).await?;
    if matches!(page, Page::Before(_)) {
        reports.reverse();
    }
    Ok(reports)
}
