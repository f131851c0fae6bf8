//! Join codes: a keeper makes one, members exchange it for tokens of their own.

use chrono::Duration;
use uuid::Uuid;

use super::access::{issue_as, renew};
use super::document::join::{Join, JoinCodeWish};
use super::document::token::TokenRequest;
use super::document::{JoinCodeDocument, NewJoinCodeDocument, NewTokenDocument, TokenDocument};
use super::once::{Answer, Once};
use super::{AppError, Service, join_form};
use crate::domain::token::Role;
use crate::domain::{JoinCode, Slug};
use crate::store::StoreError;
use crate::store::join_code::{
    code_of_token, find_join_code, insert_join_code, join_codes, note_join, revoke_join_code, use_join_code,
};
use crate::store::token::find_token;

/// Most codes of a watershed that hold at once.
const MOST: usize = 50;
/// Days that a member's token holds.
const TOKEN_DAYS: u32 = 365;

/// The codes of a watershed, oldest first, ended ones included.
///
/// # Errors
/// [`AppError::Store`].
pub async fn list(service: &Service, watershed: &Slug) -> Result<Vec<JoinCode>, AppError> {
    Ok(join_codes(&mut service.db().read().await?, watershed).await?)
}

/// Makes a code. The answer holds it, and nothing else does: a request that comes again cannot be answered with it.
///
/// # Errors
/// [`AppError::Conflict`] for a request that made its code before, and when there are too many.
pub async fn create(service: &Service, watershed: &Slug, wish: &JoinCodeWish, once: &Once) -> Result<Answer, AppError> {
    let (mut tx, now) = (service.db().write().await?, service.now());
    if once.begin(&mut tx, now).await?.is_some() {
        let detail = "This request made a code already, shown that once. Revoke it and make another.".to_owned();
        return Err(AppError::Conflict { detail });
    }
    if join_codes(&mut tx, watershed).await?.iter().filter(|code| code.holds(now)).count() >= MOST {
        return Err(AppError::Conflict { detail: format!("There are {MOST} codes already: revoke some first.") });
    }
    let code = join_form::make()?;
    let hash = join_form::hash(&code).ok_or_else(|| AppError::Internal("a new code has no valid form".to_owned()))?;
    let made = JoinCode {
        id: Uuid::now_v7(),
        watershed: watershed.clone(),
        name: wish.name.clone(),
        most_uses: wish.most_uses,
        uses: 0,
        created_at: now,
        expires_at: now + Duration::days(i64::from(wish.days)),
        revoked_at: None,
    };
    insert_join_code(&mut tx, &made, &hash).await?;
    // As it is stored, to the microsecond.
    let stored = find_join_code(&mut tx, &hash).await?.ok_or_else(|| AppError::not_found("code"))?;
    let listed = JoinCodeDocument::from(&stored);
    let location = format!("/v1/watersheds/{watershed}/join-codes/{}", made.id);
    let kept = once.end(&mut tx, 201, &listed, Some(location)).await?;
    tx.commit().await?;
    let body = serde_json::to_string(&NewJoinCodeDocument { listed, code });
    Ok(Answer { body: body.map_err(|error| AppError::Internal(error.to_string()))?, ..kept })
}

/// Revokes a code; tokens that came by it stay.
///
/// # Errors
/// [`AppError::NotFound`] when the watershed has none of that id.
pub async fn revoke(service: &Service, watershed: &Slug, id: Uuid) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    if !join_codes(&mut tx, watershed).await?.iter().any(|code| code.id == id) {
        return Err(AppError::not_found("code"));
    }
    revoke_join_code(&mut tx, watershed, id, service.now()).await?;
    tx.commit().await?;
    Ok(())
}

/// Exchanges a code for a member token. The use and the token are one transaction, so that a code good for one member
/// lets in one, however many come at once. A join that comes again under its id is given another secret as long as the
/// first was not used, and counts once.
///
/// # Errors
/// [`AppError::Unauthenticated`], the same for codes of wrong form, unknown, used up, ended and revoked ones: no database
/// is asked about a wrong form. [`AppError::Conflict`] for an id that another token has.
pub async fn join(service: &Service, join: &Join) -> Result<NewTokenDocument, AppError> {
    let hash = join_form::hash(&join.code).ok_or(AppError::Unauthenticated)?;
    let (mut tx, now) = (service.db().write().await?, service.now());
    let code = find_join_code(&mut tx, &hash).await?.ok_or(AppError::Unauthenticated)?;
    let request = TokenRequest {
        name: join.name.clone(),
        role: Role::Member,
        watersheds: vec![code.watershed.clone()],
        days: TOKEN_DAYS,
    };
    let taken = || AppError::Conflict { detail: "A token of this id is there already; take a new id.".to_owned() };
    let (token, secret) = if let Some(known) = find_token(&mut tx, join.id).await? {
        if code.revoked_at.is_some() || code.expires_at <= now {
            return Err(AppError::Unauthenticated);
        }
        if code_of_token(&mut tx, known.id).await? != Some(code.id) || known.name != request.name {
            return Err(taken());
        }
        let secret = renew(&mut tx, known.id).await?.ok_or_else(taken)?;
        (known, secret)
    } else {
        if !use_join_code(&mut tx, code.id, now).await? {
            return Err(AppError::Unauthenticated);
        }
        let made = issue_as(&mut tx, now, &request, join.id).await.map_err(|error| match error {
            // The same join came twice at once, and the other was first.
            AppError::Store(StoreError::Conflict { .. }) => taken(),
            other => other,
        })?;
        note_join(&mut tx, join.id, code.id).await?;
        made
    };
    tx.commit().await?;
    Ok(NewTokenDocument { token: TokenDocument::from(&token), secret })
}
