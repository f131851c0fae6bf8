//! What only the operator may do, on the command line: any token of any watershed.

use chrono::{DateTime, Utc};
use uuid::Uuid;

use super::document::ErasureDocument;
use super::document::token::TokenRequest;
use super::{AppError, access};
use crate::domain::Slug;
use crate::domain::token::Token;
use crate::store::{Db, place, token};

/// Makes a token. Returns it with its secret, which is kept nowhere.
///
/// # Errors
/// [`AppError::Store`] for an unknown watershed.
pub async fn create_token(db: &Db, now: DateTime<Utc>, request: &TokenRequest) -> Result<(Token, String), AppError> {
    access::issue(db, now, request).await
}

/// All tokens, or those bound to `watershed`, oldest first.
///
/// # Errors
/// [`AppError::NotFound`] for an unknown watershed.
pub async fn tokens(db: &Db, watershed: Option<&Slug>) -> Result<Vec<Token>, AppError> {
    let mut tx = db.read().await?;
    if let Some(slug) = watershed
        && place::find_watershed(&mut tx, slug).await?.is_none()
    {
        return Err(AppError::not_found("watershed"));
    }
    Ok(token::tokens(&mut tx, watershed).await?)
}

/// Ends a token at once; false when it had ended before.
///
/// # Errors
/// [`AppError::NotFound`] for an unknown token.
pub async fn revoke_token(db: &Db, id: Uuid, now: DateTime<Utc>) -> Result<bool, AppError> {
    let mut tx = db.write().await?;
    if token::find_token(&mut tx, id).await?.is_none() {
        return Err(AppError::not_found("token"));
    }
    let revoked = token::revoke_token(&mut tx, id, now).await?;
    tx.commit().await?;
    Ok(revoked)
}

/// Forgets the person behind any token and ends it; what was observed stays.
///
/// # Errors
/// [`AppError::NotFound`] for an unknown token.
pub async fn erase_token(db: &Db, id: Uuid, now: DateTime<Utc>) -> Result<ErasureDocument, AppError> {
    access::erase_any(db, id, now).await
}
