//! Keepers' notices: made, changed, withdrawn, and who sees them.

use serde_json::Value;
use uuid::Uuid;

use super::document::notice::NoticeWords;
use super::document::{NoticeDocument, NoticeInput, merge, read};
use super::once::{Answer, Once};
use super::{AppError, Service, WatershedView};
use crate::domain::token::Token;
use crate::domain::{Audience, Notice, Slug};
use crate::store::notice::{find_notice, insert_notice, notices, replace_notice};
use crate::store::{StoreError, Tx};

/// Most notices of a watershed that hold or are still to come.
const MOST: usize = 200;

/// What `caller` may see in `watershed`.
#[must_use]
pub fn audience_of(caller: Option<&Token>, watershed: &Slug) -> Audience {
    match caller {
        Some(token) if token.watersheds.contains(watershed) => Audience::Members,
        _ => Audience::Everyone,
    }
}

/// The notices of a watershed that hold or are still to come, for `reader`.
#[must_use]
pub fn current(service: &Service, view: &WatershedView, reader: Audience) -> Vec<Notice> {
    let today = service.today(view.watershed.time_zone);
    let wanted =
        |n: &&std::sync::Arc<Notice>| n.withdrawn_at.is_none() && n.until >= today && n.audience.includes(reader);
    view.notices.iter().filter(wanted).map(|notice| Notice::clone(notice)).collect()
}

/// One notice, as long as it is not withdrawn and `reader` may see it.
///
/// # Errors
/// [`AppError::NotFound`].
pub fn find(view: &WatershedView, id: Uuid, reader: Audience) -> Result<Notice, AppError> {
    let mut all = view.notices.iter();
    let found = all.find(|n| n.id == id && n.withdrawn_at.is_none() && n.audience.includes(reader));
    found.map(|notice| Notice::clone(notice)).ok_or_else(|| AppError::not_found("notice"))
}

/// Makes a notice.
///
/// # Errors
/// A fault for an unknown reach; [`AppError::Conflict`] when the watershed has too many.
pub async fn create(service: &Service, watershed: &Slug, wish: &NoticeWords, once: &Once) -> Result<Answer, AppError> {
    let now = service.now();
    let mut tx = service.db().write().await?;
    if let Some(answer) = once.begin(&mut tx, now).await? {
        return Ok(answer);
    }
    let today = now.date_naive();
    let open = notices(&mut tx, watershed).await?;
    if open.iter().filter(|notice| notice.withdrawn_at.is_none() && notice.until >= today).count() >= MOST {
        let detail = format!("There are {MOST} notices already: withdraw some first.");
        return Err(AppError::Conflict { detail });
    }
    let NoticeWords { reach, words, from, until, audience } = wish.clone();
    let (id, watershed) = (Uuid::now_v7(), watershed.clone());
    let notice = Notice {
        id,
        watershed: watershed.clone(),
        reach,
        words,
        from,
        until,
        audience,
        sequence: 0,
        created_at: now,
        changed_at: now,
        withdrawn_at: None,
    };
    insert_notice(&mut tx, &notice).await.map_err(unknown_reach)?;
    let stored = stored(&mut tx, &watershed, id).await?;
    let location = format!("/v1/watersheds/{watershed}/notices/{id}");
    let answer = once.end(&mut tx, 201, &NoticeDocument::from(&stored), Some(location)).await?;
    tx.commit().await?;
    service.serve_stored().await;
    Ok(answer)
}

/// Changes a notice.
///
/// # Errors
/// [`AppError::NotFound`], what `approve` refuses, all faults of the changed notice.
pub async fn change(
    service: &Service,
    watershed: &Slug,
    id: Uuid,
    patch: Value,
    approve: impl FnOnce(&NoticeDocument) -> Result<(), AppError>,
) -> Result<Notice, AppError> {
    let mut tx = service.db().write().await?;
    let old = stored(&mut tx, watershed, id).await?;
    approve(&NoticeDocument::from(&old))?;
    if !patch.is_object() {
        return Err(AppError::fault("#", "wrong_type", "must be a JSON object"));
    }
    let mut value =
        serde_json::to_value(NoticeInput::from(&old)).map_err(|error| AppError::Internal(error.to_string()))?;
    merge(&mut value, patch);
    let NoticeWords { reach, words, from, until, audience } = read::<NoticeInput>(value).map_err(AppError::Faults)?;
    let new = Notice { reach, words, from, until, audience, ..old.clone() };
    if new == old {
        return Ok(old);
    }
    put(service, tx, &new).await
}

/// Withdraws a notice.
///
/// # Errors
/// [`AppError::NotFound`], what `approve` refuses.
pub async fn withdraw(
    service: &Service,
    watershed: &Slug,
    id: Uuid,
    approve: impl FnOnce(&NoticeDocument) -> Result<(), AppError>,
) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    let old = stored(&mut tx, watershed, id).await?;
    approve(&NoticeDocument::from(&old))?;
    let withdrawn = Notice { withdrawn_at: Some(service.now()), ..old };
    put(service, tx, &withdrawn).await.map(drop)
}

/// Stores `new` as the next version, commits and serves it.
async fn put(service: &Service, mut tx: Tx, new: &Notice) -> Result<Notice, AppError> {
    // A clock set back must not make a notice look older than what calendars hold.
    let changed_at = service.now().max(new.changed_at);
    let next = Notice { sequence: new.sequence + 1, changed_at, ..new.clone() };
    if !replace_notice(&mut tx, &next).await.map_err(unknown_reach)? {
        return Err(AppError::PreconditionFailed);
    }
    tx.commit().await?;
    service.serve_stored().await;
    Ok(next)
}

async fn stored(tx: &mut Tx, watershed: &Slug, id: Uuid) -> Result<Notice, AppError> {
    let found = find_notice(tx, watershed, id).await?.filter(|notice| notice.withdrawn_at.is_none());
    found.ok_or_else(|| AppError::not_found("notice"))
}

fn unknown_reach(error: StoreError) -> AppError {
    match error {
        StoreError::UnknownReference { what: "reach", .. } => {
            AppError::fault("#/reach", "unknown_slug", "is not a reach of this watershed")
        }
        other => other.into(),
    }
}
