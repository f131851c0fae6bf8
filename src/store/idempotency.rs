//! Answers to requests that a client may send again.
//!
//! The claim, the work and the stored answer belong in one transaction: what was done is then never
//! without its answer, and a failed request leaves no claim.

use chrono::{DateTime, TimeDelta, Utc};
use uuid::Uuid;

use super::arg::args;
use super::keys::need_token;
use super::row::Row;
use super::{StoreError, Tx};

/// A claim committed without an answer is taken over after this time: its worker died.
const ABANDONED_AFTER: TimeDelta = TimeDelta::minutes(10);

/// What an answer is filed under.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IdempotencyKey<'a> {
    /// The token that asks.
    pub token_id: Uuid,
    /// Method and route, for example `POST /v1/reports`.
    pub route: &'a str,
    /// The client's key.
    pub key: &'a str,
}

/// An answer as sent the first time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredAnswer {
    /// HTTP status.
    pub status: u16,
    /// Body.
    pub body: String,
    /// `Location` header.
    pub location: Option<String>,
}

/// What was found under a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IdempotencyEntry {
    /// Fingerprint of the payload first sent.
    pub fingerprint: String,
    /// The answer; `None` while the work runs.
    pub answer: Option<StoredAnswer>,
    /// When it was claimed.
    pub created_at: DateTime<Utc>,
}

/// The outcome of a claim.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Claim {
    /// Not seen before: do the work, then [`finish_idempotency`].
    Fresh,
    /// Another request with the same key is being worked on.
    Running,
    /// Done before: send this answer again.
    Replay(StoredAnswer),
    /// The key was used for another payload.
    OtherPayload,
}

/// Claims a key for a payload. On PostgreSQL this waits for a concurrent claim of the same key to
/// commit or roll back.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the token.
pub async fn claim_idempotency(
    tx: &mut Tx,
    key: IdempotencyKey<'_>,
    fingerprint: &str,
    now: DateTime<Utc>,
) -> Result<Claim, StoreError> {
    const CLAIM: &str = "INSERT INTO idempotency (token_id, route, idempotency_key, fingerprint, created_at) \
        VALUES ($1, $2, $3, $4, $5) ON CONFLICT (token_id, route, idempotency_key) DO UPDATE \
        SET fingerprint = excluded.fingerprint, created_at = excluded.created_at \
        WHERE idempotency.status IS NULL AND idempotency.created_at < $6";
    need_token(tx, key.token_id).await?;
    let args = args![key.token_id, key.route, key.key, fingerprint, now, now - ABANDONED_AFTER];
    if tx.execute(CLAIM, args).await? > 0 {
        return Ok(Claim::Fresh);
    }
    let entry = find_idempotency(tx, key).await?.ok_or_else(|| StoreError::conflict("idempotency key"))?;
    Ok(match entry {
        IdempotencyEntry { fingerprint: first, .. } if first != fingerprint => Claim::OtherPayload,
        IdempotencyEntry { answer: Some(answer), .. } => Claim::Replay(answer),
        IdempotencyEntry { answer: None, .. } => Claim::Running,
    })
}

/// Files the answer to a claimed key.
///
/// # Errors
/// [`StoreError::Conflict`] when the key is not claimed or has an answer.
pub async fn finish_idempotency(tx: &mut Tx, key: IdempotencyKey<'_>, answer: &StoredAnswer) -> Result<(), StoreError> {
    const SQL: &str = "UPDATE idempotency SET status = $4, body = $5, location = $6 \
        WHERE token_id = $1 AND route = $2 AND idempotency_key = $3 AND status IS NULL";
    let StoredAnswer { status, body, location } = answer;
    match tx.execute(SQL, args![key.token_id, key.route, key.key, *status, body, location]).await? {
        0 => Err(StoreError::conflict("idempotency key")),
        _ => Ok(()),
    }
}

/// What is filed under a key, if anything.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn find_idempotency(tx: &mut Tx, key: IdempotencyKey<'_>) -> Result<Option<IdempotencyEntry>, StoreError> {
    const SQL: &str = "SELECT idempotency_key, fingerprint, status, body, location, created_at FROM idempotency \
        WHERE token_id = $1 AND route = $2 AND idempotency_key = $3";
    let read = |row: Row| {
        let answer = match row.opt_number("status")? {
            Some(status) => Some(StoredAnswer { status, body: row.text("body")?, location: row.opt_text("location")? }),
            None => None,
        };
        let (fingerprint, created_at) = (row.text("fingerprint")?, row.instant("created_at")?);
        Ok(IdempotencyEntry { fingerprint, answer, created_at })
    };
    tx.row("idempotency", SQL, args![key.token_id, key.route, key.key]).await?.map(read).transpose()
}

/// Forgets every answer that led to `location`, with its claim; tells how many.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn forget_answers(tx: &mut Tx, location: &str) -> Result<u64, StoreError> {
    tx.execute("DELETE FROM idempotency WHERE location = $1", args![location]).await
}

/// Days that an answer is kept.
pub const KEPT_DAYS: i64 = 30;

/// Forgets what was claimed more than [`KEPT_DAYS`] days before `now`; tells how many.
///
/// # Errors
/// [`StoreError`] of the database.
pub async fn purge_idempotency(tx: &mut Tx, now: DateTime<Utc>) -> Result<u64, StoreError> {
    let before = now - TimeDelta::days(KEPT_DAYS);
    tx.execute("DELETE FROM idempotency WHERE created_at < $1", args![before]).await
}
