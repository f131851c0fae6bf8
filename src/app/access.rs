//! Who is calling, and the tokens that keepers hand out.

use chrono::{DateTime, Duration, NaiveDate, Utc};
use uuid::Uuid;

use super::document::token::TokenRequest;
use super::{AppError, Service, token};
use crate::domain::Slug;
use crate::domain::token::{Role, Token};
use crate::store::token::{find_token, find_token_by_hash, insert_token, revoke_token, tokens, touch_token};
use crate::store::{Db, StoreError};

/// The token behind `secret`, if it holds now. A secret of wrong form costs no database access.
///
/// # Errors
/// [`AppError::Unauthenticated`], the same for unknown, expired and revoked ones.
pub async fn authenticate(service: &Service, secret: &str) -> Result<Token, AppError> {
    let hash = token::hash(secret).ok_or(AppError::Unauthenticated)?;
    let now = service.now();
    let found = {
        let mut tx = service.db().read().await?;
        find_token_by_hash(&mut tx, &hash).await?
    };
    let token =
        found.filter(|token| token.revoked_at.is_none() && token.expires_at > now).ok_or(AppError::Unauthenticated)?;
    let today = now.date_naive();
    if token.last_used_date.is_none_or(|date| date < today) {
        // The date is a help to keepers; a busy database must not turn a member away for it.
        if let Err(error) = touch(service.db(), token.id, today).await {
            tracing::warn!(%error, "the day of a token's last use could not be kept");
        }
    }
    Ok(token)
}

async fn touch(db: &Db, id: Uuid, today: NaiveDate) -> Result<(), StoreError> {
    let mut tx = db.write().await?;
    touch_token(&mut tx, id, today).await?;
    tx.commit().await
}

/// Makes a token bound to watersheds that the maker keeps. Returns it with its secret, which is
/// kept nowhere.
///
/// # Errors
/// One fault for each watershed the maker does not keep.
pub async fn create(service: &Service, maker: &Token, request: &TokenRequest) -> Result<(Token, String), AppError> {
    let mut faults = super::document::Faults::default();
    for (index, slug) in request.watersheds.iter().enumerate() {
        if !maker.watersheds.contains(slug) {
            faults.add(format!("#/watersheds/{index}"), "not_yours", "is not a watershed you keep");
        }
    }
    if !faults.is_empty() {
        return Err(AppError::Faults(faults));
    }
    issue(service.db(), service.now(), request).await
}

/// Makes a token whatever it is bound to. Who may do that is the caller's to say.
///
/// # Errors
/// [`AppError::Store`] for an unknown watershed.
pub(super) async fn issue(db: &Db, now: DateTime<Utc>, request: &TokenRequest) -> Result<(Token, String), AppError> {
    let secret = token::make()?;
    let hash = token::hash(&secret).ok_or_else(|| AppError::Internal("a new token has no valid form".to_owned()))?;
    let mut watersheds: Vec<Slug> = request.watersheds.clone();
    watersheds.sort();
    watersheds.dedup();
    let made = Token {
        id: Uuid::now_v7(),
        name: request.name.clone(),
        role: request.role,
        watersheds,
        created_at: now,
        expires_at: now + Duration::days(i64::from(request.days)),
        revoked_at: None,
        last_used_date: None,
    };
    let mut tx = db.write().await?;
    insert_token(&mut tx, &made, &hash).await?;
    let stored = find_token(&mut tx, made.id).await?.ok_or_else(|| AppError::not_found("token"))?;
    tx.commit().await?;
    Ok((stored, secret))
}

/// The tokens a keeper may see: those bound to nothing but watersheds of their own, oldest first.
///
/// # Errors
/// [`AppError::Store`].
pub async fn list(service: &Service, keeper: &Token) -> Result<Vec<Token>, AppError> {
    let mut tx = service.db().read().await?;
    Ok(tokens(&mut tx, None).await?.into_iter().filter(|token| manages(keeper, token)).collect())
}

/// The token of that id, if the keeper may see it.
///
/// # Errors
/// [`AppError::NotFound`].
pub async fn find(service: &Service, keeper: &Token, id: Uuid) -> Result<Token, AppError> {
    let mut tx = service.db().read().await?;
    let found = find_token(&mut tx, id).await?.filter(|token| manages(keeper, token));
    found.ok_or_else(|| AppError::not_found("token"))
}

/// Revokes a token; the next request with it is refused.
///
/// # Errors
/// [`AppError::NotFound`].
pub async fn revoke(service: &Service, keeper: &Token, id: Uuid) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    find_token(&mut tx, id)
        .await?
        .filter(|token| manages(keeper, token))
        .ok_or_else(|| AppError::not_found("token"))?;
    revoke_token(&mut tx, id, service.now()).await?;
    tx.commit().await?;
    Ok(())
}

fn manages(keeper: &Token, token: &Token) -> bool {
    keeper.role == Role::Keeper && token.watersheds.iter().all(|slug| keeper.watersheds.contains(slug))
}
