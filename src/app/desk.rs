//! Keepers who are signed in at the desk: a session stands for a keeper token, for some hours.

use chrono::Duration;
use sha2::{Digest, Sha256};

use super::digest::hex;
use super::{AppError, Service, access, token};
use crate::domain::token::{Role, Token};
use crate::store::desk_session::{delete_session, insert_session, session_token};
use crate::store::token::find_token;

/// Hours that a session lasts.
pub const SESSION_HOURS: i64 = 12;

/// A session that was just begun.
#[derive(Debug, Clone, PartialEq)]
pub struct Session {
    /// The key, for the browser alone: only its SHA-256 is stored.
    pub key: String,
    /// The keeper.
    pub keeper: Token,
    /// Seconds that it lasts.
    pub lasts_s: i64,
}

/// Begins a session for whoever holds the keeper token `secret`.
///
/// # Errors
/// [`AppError::Unauthenticated`]; [`AppError::Forbidden`] for a member's token.
pub async fn sign_in(service: &Service, secret: &str) -> Result<Session, AppError> {
    let keeper = access::authenticate(service, secret).await?;
    if keeper.role != Role::Keeper {
        return Err(AppError::Forbidden { detail: "This is a member's token; the desk opens with a keeper's." });
    }
    let key = token::make_session_key()?;
    let hash =
        token::hash_session_key(&key).ok_or_else(|| AppError::Internal("a new key has no valid form".to_owned()))?;
    let now = service.now();
    let expires_at = (now + Duration::hours(SESSION_HOURS)).min(keeper.expires_at);
    let mut tx = service.db().write().await?;
    insert_session(&mut tx, &hash, keeper.id, now, expires_at).await?;
    tx.commit().await?;
    Ok(Session { key, keeper, lasts_s: (expires_at - now).num_seconds() })
}

/// The keeper of the session with that key, as long as the session lasts and the token behind it holds.
///
/// # Errors
/// [`AppError::Unauthenticated`], [`AppError::Store`].
pub async fn keeper_of(service: &Service, key: &str) -> Result<Token, AppError> {
    let hash = token::hash_session_key(key).ok_or(AppError::Unauthenticated)?;
    let now = service.now();
    let mut tx = service.db().read().await?;
    let id = session_token(&mut tx, &hash, now).await?.ok_or(AppError::Unauthenticated)?;
    find_token(&mut tx, id)
        .await?
        .filter(|token| token.revoked_at.is_none() && token.expires_at > now && token.role == Role::Keeper)
        .ok_or(AppError::Unauthenticated)
}

/// Ends the session with that key.
///
/// # Errors
/// [`AppError::Store`].
pub async fn sign_out(service: &Service, key: &str) -> Result<(), AppError> {
    let Some(hash) = token::hash_session_key(key) else { return Ok(()) };
    let mut tx = service.db().write().await?;
    delete_session(&mut tx, &hash).await?;
    tx.commit().await?;
    Ok(())
}

/// What every form of a session carries, so that no other site can send one: it follows from the key, which no other
/// site knows, and does not tell it.
#[must_use]
pub fn form_mark(key: &str) -> String {
    hex(&Sha256::new().chain_update("form of ").chain_update(key).finalize()[..16])
}
