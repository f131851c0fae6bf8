//! Who is given the feeds of a watershed: everyone, or who knows a secret address.

use serde_json::Value;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::digest::hex;
use super::document::{FeedAddressDocument, FeedsDocument, FeedsInput, NewFeedAddressDocument, read};
use super::once::{Answer, Once};
use super::{AppError, Service, WatershedView, token};
use crate::domain::{Audience, Slug};
use crate::store::Tx;
use crate::store::feed_address::{
    FeedAddress, are_feeds_private, feed_addresses, feed_key_holds, insert_feed_address, revoke_feed_address,
    set_feeds_private,
};

/// Most secret addresses of a watershed that hold at once.
const MOST: usize = 200;

/// What a feed may show to who asks with `key`, or without any. A key of wrong form costs no database access.
///
/// # Errors
/// [`AppError::NotFound`] for a key that is unknown, revoked or another water's, and without a key where feeds are
/// private.
pub async fn reader(service: &Service, view: &WatershedView, key: Option<&str>) -> Result<Audience, AppError> {
    let nothing = || AppError::not_found("feed");
    let Some(key) = key else {
        return if view.feeds_private { Err(nothing()) } else { Ok(Audience::Everyone) };
    };
    let sha256 = token::hash_feed_key(key).ok_or_else(nothing)?;
    let mut tx = service.db().read().await?;
    if feed_key_holds(&mut tx, &view.watershed.slug, &hex(&sha256)).await? {
        Ok(Audience::Members)
    } else {
        Err(nothing())
    }
}

/// How the feeds of a watershed are given.
///
/// # Errors
/// [`AppError::Store`].
pub async fn feeds(service: &Service, watershed: &Slug) -> Result<FeedsDocument, AppError> {
    document(&mut service.db().read().await?, watershed).await
}

async fn document(tx: &mut Tx, watershed: &Slug) -> Result<FeedsDocument, AppError> {
    let private = are_feeds_private(tx, watershed).await?;
    let addresses = feed_addresses(tx, watershed).await?.iter().map(FeedAddressDocument::from).collect();
    Ok(FeedsDocument { private, addresses })
}

/// Changes how the feeds of a watershed are given.
///
/// # Errors
/// What `approve` refuses; all faults of `wish`.
pub async fn change(
    service: &Service,
    watershed: &Slug,
    wish: Value,
    approve: impl FnOnce(&FeedsDocument) -> Result<(), AppError>,
) -> Result<FeedsDocument, AppError> {
    let mut tx = service.db().write().await?;
    let stored = document(&mut tx, watershed).await?;
    approve(&stored)?;
    let private = read::<FeedsInput>(wish).map_err(AppError::Faults)?;
    set_feeds_private(&mut tx, watershed, private, service.now()).await?;
    tx.commit().await?;
    service.serve_stored().await;
    Ok(FeedsDocument { private, ..stored })
}

/// Makes a secret address. The answer holds its key, which is kept nowhere: a request that comes again cannot be
/// answered with it.
///
/// # Errors
/// [`AppError::Conflict`] for a request that made its address before, and when there are too many.
pub async fn create(service: &Service, watershed: &Slug, name: String, once: &Once) -> Result<Answer, AppError> {
    let (mut tx, now) = (service.db().write().await?, service.now());
    if let Some(before) = once.begin(&mut tx, now).await? {
        let path = before.location.unwrap_or_default();
        let detail =
            format!("This request made {path} already, and its key was shown that once. Revoke it and make another.");
        return Err(AppError::Conflict { detail });
    }
    let held = feed_addresses(&mut tx, watershed).await?;
    if held.iter().filter(|address| address.revoked_at.is_none()).count() >= MOST {
        return Err(AppError::Conflict { detail: format!("There are {MOST} addresses already: revoke some first.") });
    }
    let key = token::make_feed_key()?;
    let sha256: [u8; 32] = Sha256::digest(&key).into();
    let made =
        FeedAddress { id: Uuid::now_v7(), watershed: watershed.clone(), name, created_at: now, revoked_at: None };
    insert_feed_address(&mut tx, &made, &hex(&sha256)).await?;
    // As it is stored, to the microsecond.
    let stored = feed_addresses(&mut tx, watershed).await?.into_iter().find(|address| address.id == made.id);
    let address = FeedAddressDocument::from(&stored.ok_or_else(|| AppError::not_found("address"))?);
    let location = format!("/v1/watersheds/{watershed}/feeds/addresses/{}", made.id);
    let kept = once.end(&mut tx, 201, &address, Some(location)).await?;
    tx.commit().await?;
    let (calendar, news) = (format!("/calendars/{key}/{watershed}.ics"), format!("/feeds/{key}/{watershed}.atom"));
    let body = serde_json::to_string(&NewFeedAddressDocument { address, calendar, news });
    Ok(Answer { body: body.map_err(|error| AppError::Internal(error.to_string()))?, ..kept })
}

/// Revokes a secret address; the next request with it is refused.
///
/// # Errors
/// [`AppError::NotFound`] when the watershed has none of that id.
pub async fn revoke(service: &Service, watershed: &Slug, id: Uuid) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    if !feed_addresses(&mut tx, watershed).await?.iter().any(|address| address.id == id) {
        return Err(AppError::not_found("address"));
    }
    revoke_feed_address(&mut tx, watershed, id, service.now()).await?;
    tx.commit().await?;
    Ok(())
}
