//! Photos of reports: taken with a report by its sender, looked at by the keepers of its water, forgotten with it.

use tokio::sync::{Semaphore, SemaphorePermit};
use uuid::Uuid;

use super::document::PhotoDocument;
use super::report::visible;
use super::{AppError, Service};
use crate::domain::Report;
use crate::domain::photo::Photo;
use crate::domain::token::Token;
use crate::ingest::photo::{MAX_BYTES as MOST, PhotoFault, photo};
use crate::store::Tx;
use crate::store::report_photo::{delete_photo, find_photo, put_photo};

/// Largest file, bytes.
pub const MAX_BYTES: usize = MOST;

/// One photo is decoded at a time: each may take a hundred megabytes for a moment.
static TURN: Semaphore = Semaphore::const_new(1);

/// Room for photos that are on their way or wait for their turn, KiB: eight of the largest, some hundred of those that
/// phones make small.
static ROOM: Semaphore = Semaphore::const_new(64 * 1024);

/// Room for a photo of at most so many `bytes`, given back when dropped.
///
/// # Errors
/// [`AppError::Unavailable`] while others take it.
pub fn room(bytes: usize) -> Result<SemaphorePermit<'static>, AppError> {
    let kib = u32::try_from(bytes.div_ceil(1024)).unwrap_or(u32::MAX).max(1);
    let detail = "Many photos are being sent. Send this one again in a moment.";
    ROOM.try_acquire_many(kib).map_err(|_| AppError::Unavailable { detail, retry_after_s: 10 })
}

/// Passes for whoever may keep a photo with the report `id`, before one is taken in.
///
/// # Errors
/// [`AppError::NotFound`], [`AppError::Forbidden`] for a keeper who did not send the report.
pub async fn check_sender(service: &Service, token: &Token, id: Uuid) -> Result<(), AppError> {
    sent_by(&mut service.db().read().await?, token, id).await.map(drop)
}

/// Keeps the photo in `bytes` with the report `id`, which the caller sent ([`check_sender`] says so beforehand). The same again changes nothing but the time.
///
/// # Errors
/// [`AppError::NotFound`], [`AppError::Forbidden`] for a keeper who did not send the report,
/// [`AppError::UnknownPicture`], [`AppError::HeifPicture`], a fault of the whole body for a picture that is too large or damaged.
pub async fn put(service: &Service, token: &Token, id: Uuid, bytes: Vec<u8>) -> Result<PhotoDocument, AppError> {
    let turn = TURN.acquire().await.map_err(|error| AppError::Internal(error.to_string()))?;
    let read = tokio::task::spawn_blocking(move || photo(&bytes)).await;
    drop(turn);
    let photo = match read.map_err(|error| AppError::Internal(error.to_string()))? {
        Ok(photo) => photo,
        Err(PhotoFault::UnknownKind) => return Err(AppError::UnknownPicture),
        Err(PhotoFault::Heif) => return Err(AppError::HeifPicture),
        Err(fault @ PhotoFault::TooLarge) => return Err(AppError::fault("#", "too_large", fault.to_string())),
        Err(fault @ PhotoFault::Damaged(_)) => return Err(AppError::fault("#", "damaged", fault.to_string())),
    };
    let (mut tx, now) = (service.db().write().await?, service.now());
    // It may have been withdrawn meanwhile.
    sent_by(&mut tx, token, id).await?;
    put_photo(&mut tx, id, &photo, now).await?;
    tx.commit().await?;
    Ok(PhotoDocument { report: id, width_px: photo.width_px, height_px: photo.height_px })
}

async fn sent_by(tx: &mut Tx, token: &Token, id: Uuid) -> Result<Report, AppError> {
    let report = visible(tx, token, id).await?;
    if report.token_id == token.id {
        Ok(report)
    } else {
        Err(AppError::Forbidden { detail: "A photo comes from whoever sent the report." })
    }
}

/// Forgets the photo of the report `id`, which the caller sent or keeps the water of.
///
/// # Errors
/// [`AppError::NotFound`] for the report; one without a photo stays so.
pub async fn remove(service: &Service, token: &Token, id: Uuid) -> Result<(), AppError> {
    let mut tx = service.db().write().await?;
    visible(&mut tx, token, id).await?;
    delete_photo(&mut tx, id).await?;
    tx.commit().await?;
    Ok(())
}

/// The photo of the report `id`, for a keeper of its water.
///
/// # Errors
/// [`AppError::NotFound`] for the report or the photo, and for everybody else.
pub async fn look(service: &Service, token: &Token, id: Uuid) -> Result<Photo, AppError> {
    let mut tx = service.db().read().await?;
    let report = visible(&mut tx, token, id).await?;
    if !super::report::keeps(token, &report.watershed) {
        return Err(AppError::not_found("photo"));
    }
    find_photo(&mut tx, id).await?.ok_or_else(|| AppError::not_found("photo"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_is_room_for_some_photos_at_once_and_again_when_they_are_kept() {
        let taken: Vec<_> = (0..8).map(|_| room(MAX_BYTES).expect("room")).collect();
        assert!(matches!(room(1), Err(AppError::Unavailable { .. })));
        drop(taken);
        let small: Vec<_> = (0..250).map(|_| room(250_000).expect("room for small ones")).collect();
        assert!(room(MAX_BYTES).is_err());
        drop(small);
        assert!(room(MAX_BYTES).is_ok());
    }
}
