//! Doing what a client asks for once, however often it sends the same request.
//!
//! The claim on the client's key, the work and the stored answer belong in one transaction: begin,
//! work, end, commit.

use chrono::{DateTime, Utc};
use serde::Serialize;
use uuid::Uuid;

use super::AppError;
use crate::store::Tx;
use crate::store::idempotency::{Claim, IdempotencyKey, StoredAnswer, claim_idempotency, finish_idempotency};

/// Seconds after which a request whose twin is being worked on may come again.
pub const TWIN_AFTER_S: u64 = 2;

/// One creating request: who sends it, where, under which key and with what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Once {
    /// The token that asks.
    pub token_id: Uuid,
    /// Method and path.
    pub route: String,
    /// The client's Idempotency-Key; without one each request is work of its own.
    pub key: Option<String>,
    /// Digest of what is asked for.
    pub fingerprint: String,
}

/// The answer to a creating request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer {
    /// HTTP status.
    pub status: u16,
    /// JSON text.
    pub body: String,
    /// Path of what was made.
    pub location: Option<String>,
    /// True when the work was done before and this is its answer again.
    pub replayed: bool,
}

impl Once {
    /// Claims the key. `None` means: do the work, then [`Self::end`].
    ///
    /// # Errors
    /// [`AppError::KeyReused`] when the key came with something else before,
    /// [`AppError::Twin`] while the same request is being worked on.
    pub async fn begin(&self, tx: &mut Tx, now: DateTime<Utc>) -> Result<Option<Answer>, AppError> {
        match self.claim(tx, now).await? {
            Claim::Fresh => Ok(None),
            Claim::Replay(StoredAnswer { status, body, location }) => {
                Ok(Some(Answer { status, body, location, replayed: true }))
            }
            Claim::OtherPayload => Err(AppError::KeyReused),
            Claim::Running => Err(AppError::Twin { retry_after_s: TWIN_AFTER_S }),
        }
    }

    /// Claims the key and tells what was found under it; [`Claim::Fresh`] without a key.
    ///
    /// # Errors
    /// [`AppError::Store`].
    pub async fn claim(&self, tx: &mut Tx, now: DateTime<Utc>) -> Result<Claim, AppError> {
        match self.stored_under() {
            None => Ok(Claim::Fresh),
            Some(key) => Ok(claim_idempotency(tx, key, &self.fingerprint, now).await?),
        }
    }

    /// Stores the answer with the work it belongs to.
    ///
    /// # Errors
    /// [`AppError::Store`], [`AppError::Internal`] when `document` cannot be written.
    pub async fn end(
        &self,
        tx: &mut Tx,
        status: u16,
        document: &impl Serialize,
        location: Option<String>,
    ) -> Result<Answer, AppError> {
        let body = serde_json::to_string(document).map_err(|error| AppError::Internal(error.to_string()))?;
        if let Some(key) = self.stored_under() {
            let stored = StoredAnswer { status, body: body.clone(), location: location.clone() };
            finish_idempotency(tx, key, &stored).await?;
        }
        Ok(Answer { status, body, location, replayed: false })
    }

    fn stored_under(&self) -> Option<IdempotencyKey<'_>> {
        let key = self.key.as_deref()?;
        Some(IdempotencyKey { token_id: self.token_id, route: &self.route, key })
    }
}
