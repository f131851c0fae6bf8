//! Long work that outlives a request.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::place::{word_for, word_of};
use super::{Invalid, Slug};

/// Which kinds of job a worker takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kinds<'a> {
    /// Any.
    All,
    /// One alone.
    Only(&'a str),
    /// All but one that is left to others.
    AllBut(&'a str),
}

/// State of a job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum JobState {
    /// Waiting for a worker.
    Queued,
    /// A worker holds its lease.
    Running,
    /// Ended well.
    Done,
    /// Gave up.
    Failed,
    /// Stopped by who asked for it, before it stored anything.
    Cancelled,
}

impl JobState {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 5] = [
        (Self::Queued, "queued"),
        (Self::Running, "running"),
        (Self::Done, "done"),
        (Self::Failed, "failed"),
        (Self::Cancelled, "cancelled"),
    ];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "state", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// One job.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// Identifier.
    pub id: Uuid,
    /// The watershed it works on.
    pub watershed: Slug,
    /// What is to be done: `fit`, `import`.
    pub kind: String,
    /// Its arguments as JSON text.
    pub arguments_json: String,
    /// State.
    pub state: JobState,
    /// Units done.
    pub done: u32,
    /// Units in all, 0 when unknown.
    pub total: u32,
    /// Result or error as JSON text, once ended.
    pub result_json: Option<String>,
    /// Times it was started.
    pub attempts: u32,
    /// Grows with every claim; a late writer with an old number is refused.
    pub fence: i64,
    /// When it was queued.
    pub created_at: DateTime<Utc>,
    /// When it last changed.
    pub updated_at: DateTime<Utc>,
    /// Until when the worker's claim holds.
    pub lease_until: Option<DateTime<Utc>>,
}
