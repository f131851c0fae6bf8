//! Long work and where it stands.

use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::job::Job;

/// A job.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct JobDocument {
    /// Identifier.
    pub id: Uuid,
    /// Watershed it works on.
    pub watershed: String,
    /// What is to be done, for example `fit`.
    #[schema(example = "fit")]
    pub kind: String,
    /// `queued`, `running`, `done`, `failed` or `cancelled`.
    #[schema(example = "queued")]
    pub state: &'static str,
    /// Units done.
    pub done: u32,
    /// Units in all, 0 when unknown.
    pub total: u32,
    /// Times it was started.
    pub attempts: u32,
    /// When it was queued.
    pub created_at: DateTime<Utc>,
    /// When it last changed.
    pub updated_at: DateTime<Utc>,
    /// Result or error, once ended.
    #[schema(required, value_type = Option<Object>)]
    pub result: Option<serde_json::Value>,
}

impl From<&Job> for JobDocument {
    fn from(job: &Job) -> Self {
        Self {
            id: job.id,
            watershed: job.watershed.to_string(),
            kind: job.kind.clone(),
            state: job.state.as_str(),
            done: job.done,
            total: job.total,
            attempts: job.attempts,
            created_at: job.created_at,
            updated_at: job.updated_at,
            // Our own workers wrote it; text that is not JSON is shown as a JSON string.
            result: job
                .result_json
                .as_ref()
                .map(|text| serde_json::from_str(text).unwrap_or_else(|_| serde_json::Value::String(text.clone()))),
        }
    }
}
