//! What became of a report: all of it for the keepers of its watershed, what was asked for its sender.

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;

use super::ReportDocument;

/// A report with who sent it and all that happened to it.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ModerationDocument {
    /// The report. Its entity tag (`GET /v1/reports/{id}`) is the one that decisions are held to.
    pub report: ReportDocument,
    /// Name of the token that sent it.
    #[schema(example = "Evening walks")]
    pub sender: String,
    /// Whether a photo came with it, which the desk shows.
    pub has_photo: bool,
    /// What happened to it, first its filing.
    pub history: Vec<ReportChangeDocument>,
    /// The state that taking back the last decision leads to; null when there is none to take back.
    #[schema(required, example = "accepted")]
    pub undo_to: Option<&'static str>,
}

/// One thing that happened to a report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ReportChangeDocument {
    /// `filed`, `edit`, `decision`, `undo` or `withdrawal`.
    #[schema(example = "decision")]
    pub action: &'static str,
    /// When.
    pub at: DateTime<Utc>,
    /// Name of the token that did it.
    #[schema(example = "The keeper")]
    pub by: String,
    /// State before; null when it was filed.
    #[schema(required, example = "accepted")]
    pub from: Option<&'static str>,
    /// State after.
    #[schema(example = "rejected")]
    pub to: &'static str,
    /// Why, where said.
    #[schema(required)]
    pub reason: Option<String>,
}

/// A report as its sender sees it again: with what a keeper wants to know, or why it is not used.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SentDocument {
    /// The report.
    pub report: ReportDocument,
    /// What the keeper said who asked for more or set it aside; null in other states, and where nothing is kept of it.
    #[schema(required, example = "Which of the two weirs was it?")]
    pub reason: Option<String>,
    /// Entity tag of the report, for `If-Match` when it is changed.
    #[schema(example = "\"0123456789abcdef01234567\"")]
    pub entity_tag: String,
}
