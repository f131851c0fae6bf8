//! Who is calling, and the tokens that keepers hand out.

use chrono::{DateTime, Duration, NaiveDate, Utc};
use uuid::Uuid;

use super::document::token::TokenRequest;
use super::document::{ErasureDocument, NewTokenDocument, TokenDocument};
use super::once::{Answer, Once};
use super::{AppError, Service, token};
use crate::domain::Slug;
use crate::domain::token::{Role, Token};
use crate::store::erase::{Erased, erase_member};
use crate::store::token::{
    find_token, find_token_by_hash, insert_token, replace_secret, revoke_token, tokens, touch_token,
};
use crate::store::{Db, StoreError, Tx};

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
    match token.last_used_date {
        // The first use is waited for: who joins again is given the secret of an unused token anew.
        None => keep_use(service, token.id, today).await,
        Some(date) if date < today => touch_soon(service, token.id, today),
        Some(_) => {}
    }
    Ok(token)
}

/// Keeps the day of a token's last use behind the caller's back: it is a help to keepers, and a member must not wait
/// while the database is written to. While one waits to be kept others are not: the token's next request asks again.
fn touch_soon(service: &Service, id: Uuid, today: NaiveDate) {
    let service = service.clone();
    tokio::spawn(async move {
        let Ok(_turn) = service.touching().try_acquire() else { return };
        keep_use(&service, id, today).await;
    });
}

async fn keep_use(service: &Service, id: Uuid, today: NaiveDate) {
    // A busy database must not turn a member away for it.
    if let Err(error) = touch(service.db(), id, today).await {
        tracing::warn!(%error, "the day of a token's last use could not be kept");
    }
}

async fn touch(db: &Db, id: Uuid, today: NaiveDate) -> Result<(), StoreError> {
    let mut tx = db.write().await?;
    touch_token(&mut tx, id, today).await?;
    tx.commit().await
}

/// Makes a token bound to watersheds that the maker keeps. The answer holds its secret, which is kept
/// nowhere: a request that comes again cannot be answered with it.
///
/// # Errors
/// One fault for each watershed the maker does not keep; [`AppError::Conflict`] for a request that
/// made its token before.
pub async fn create(service: &Service, maker: &Token, request: &TokenRequest, once: &Once) -> Result<Answer, AppError> {
    let mut faults = super::document::Faults::default();
    for (index, slug) in request.watersheds.iter().enumerate() {
        if !maker.watersheds.contains(slug) {
            faults.add(format!("#/watersheds/{index}"), "not_yours", "is not a watershed you keep");
        }
    }
    if !faults.is_empty() {
        return Err(AppError::Faults(faults));
    }
    let (mut tx, now) = (service.db().write().await?, service.now());
    if let Some(before) = once.begin(&mut tx, now).await? {
        let path = before.location.unwrap_or_default();
        let detail = format!(
            "This request made {path} already, and its secret was shown that once. Revoke it and make another token."
        );
        return Err(AppError::Conflict { detail });
    }
    let (token, secret) = issue_in(&mut tx, now, request).await?;
    let document = TokenDocument::from(&token);
    let stored = once.end(&mut tx, 201, &document, Some(format!("/v1/tokens/{}", token.id))).await?;
    tx.commit().await?;
    let body = serde_json::to_string(&NewTokenDocument { token: document, secret });
    Ok(Answer { body: body.map_err(|error| AppError::Internal(error.to_string()))?, ..stored })
}

/// Makes a token whatever it is bound to. Who may do that is the caller's to say.
///
/// # Errors
/// [`AppError::Store`] for an unknown watershed.
pub(super) async fn issue(db: &Db, now: DateTime<Utc>, request: &TokenRequest) -> Result<(Token, String), AppError> {
    let mut tx = db.write().await?;
    let made = issue_in(&mut tx, now, request).await?;
    tx.commit().await?;
    Ok(made)
}

async fn issue_in(tx: &mut Tx, now: DateTime<Utc>, request: &TokenRequest) -> Result<(Token, String), AppError> {
    issue_as(tx, now, request, Uuid::now_v7()).await
}

/// Makes a token of that id, whatever it is bound to. Who may do that is the caller's to say.
///
/// # Errors
/// [`AppError::Store`] for an unknown watershed or a known id.
pub(super) async fn issue_as(
    tx: &mut Tx,
    now: DateTime<Utc>,
    request: &TokenRequest,
    id: Uuid,
) -> Result<(Token, String), AppError> {
    let (secret, hash) = make_secret()?;
    let mut watersheds: Vec<Slug> = request.watersheds.clone();
    watersheds.sort();
    watersheds.dedup();
    let made = Token {
        id,
        name: request.name.clone(),
        role: request.role,
        watersheds,
        created_at: now,
        expires_at: now + Duration::days(i64::from(request.days)),
        revoked_at: None,
        last_used_date: None,
    };
    insert_token(tx, &made, &hash).await?;
    let stored = find_token(tx, made.id).await?.ok_or_else(|| AppError::not_found("token"))?;
    Ok((stored, secret))
}

/// Gives a token that was never used another secret; `None` when it was used.
///
/// # Errors
/// [`AppError::Store`].
pub(super) async fn renew(tx: &mut Tx, id: Uuid) -> Result<Option<String>, AppError> {
    let (secret, hash) = make_secret()?;
    Ok(replace_secret(tx, id, &hash).await?.then_some(secret))
}

fn make_secret() -> Result<(String, [u8; 32]), AppError> {
    let secret = token::make()?;
    let hash = token::hash(&secret).ok_or_else(|| AppError::Internal("a new token has no valid form".to_owned()))?;
    Ok((secret, hash))
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

/// Forgets the person behind a token: its name and the free text of its reports go, what was observed
/// stays for the models, and the token ends. Its holder may ask for it, and a keeper who manages it.
///
/// # Errors
/// [`AppError::NotFound`].
pub async fn erase(service: &Service, caller: &Token, id: Uuid) -> Result<ErasureDocument, AppError> {
    let mut tx = service.db().read().await?;
    find_token(&mut tx, id)
        .await?
        .filter(|token| token.id == caller.id || manages(caller, token))
        .ok_or_else(|| AppError::not_found("token"))?;
    drop(tx);
    erase_any(service.db(), id, service.now()).await
}

/// Forgets the person behind a token. Who may do that is the caller's to say.
///
/// # Errors
/// [`AppError::NotFound`].
pub(super) async fn erase_any(db: &Db, id: Uuid, now: DateTime<Utc>) -> Result<ErasureDocument, AppError> {
    let mut tx = db.write().await?;
    if find_token(&mut tx, id).await?.is_none() {
        return Err(AppError::not_found("token"));
    }
    let Erased { reports, revisions, answers } = erase_member(&mut tx, id, now).await?;
    tx.commit().await?;
    // Forgotten is forgotten, though the log may still hold it until it is folded next: the caller has to know the first.
    if let Err(error) = db.fold_log().await {
        let error = &error as &dyn std::error::Error;
        tracing::warn!(error, "what was erased may still be in the database's log");
    }
    Ok(ErasureDocument { token: id, reports, revisions, answers })
}

fn manages(keeper: &Token, token: &Token) -> bool {
    keeper.role == Role::Keeper && token.watersheds.iter().all(|slug| keeper.watersheds.contains(slug))
}
