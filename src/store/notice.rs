//! What keepers tell.

use uuid::Uuid;

use super::arg::args;
use super::forecast::raise_generation;
use super::keys::{reach_id, watershed_id};
use super::row::Row;
use super::{StoreError, Tx};
use crate::domain::{Audience, Notice, Slug};

/// Stores a new notice.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or reach; [`StoreError::Conflict`] for a known id.
pub async fn insert_notice(tx: &mut Tx, notice: &Notice) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO notice (id, watershed_id, reach_id, words, from_date, until_date, audience, sequence, \
        created_at, changed_at, withdrawn_at) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)";
    let (watershed_id, reach_id) = places(tx, notice).await?;
    let Notice { id, words, from, until, sequence, created_at, changed_at, withdrawn_at, .. } = notice;
    let mut row = args![*id, watershed_id, reach_id, words, *from, *until, notice.audience.as_str()];
    row.extend(args![*sequence, *created_at, *changed_at, withdrawn_at]);
    tx.execute(SQL, row).await?;
    raise_generation(tx).await
}

/// Replaces what a notice says. False when there is none of its id in its watershed, or a later version of it.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed or reach.
pub async fn replace_notice(tx: &mut Tx, notice: &Notice) -> Result<bool, StoreError> {
    const SQL: &str = "UPDATE notice SET reach_id = $3, words = $4, from_date = $5, until_date = $6, audience = $7, \
        sequence = $8, changed_at = $9, withdrawn_at = $10 WHERE id = $1 AND watershed_id = $2 AND sequence < $8";
    let (watershed_id, reach_id) = places(tx, notice).await?;
    let Notice { id, words, from, until, sequence, changed_at, withdrawn_at, .. } = notice;
    let mut row = args![*id, watershed_id, reach_id, words, *from, *until, notice.audience.as_str()];
    row.extend(args![*sequence, *changed_at, withdrawn_at]);
    let replaced = tx.execute(SQL, row).await? > 0;
    if replaced {
        raise_generation(tx).await?;
    }
    Ok(replaced)
}

/// All notices of a watershed, withdrawn ones included, by first day and id.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn notices(tx: &mut Tx, watershed: &Slug) -> Result<Vec<Notice>, StoreError> {
    const SQL: &str = "SELECT n.id, w.slug AS watershed, r.slug AS reach, n.words, n.from_date, n.until_date, n.audience, \
        n.sequence, n.created_at, n.changed_at, n.withdrawn_at FROM notice n \
        JOIN watershed w ON w.id = n.watershed_id LEFT JOIN reach r ON r.id = n.reach_id \
        WHERE n.watershed_id = $1 ORDER BY n.from_date, n.id";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.rows("notice", SQL, args![watershed_id]).await?.iter().map(read_notice).collect()
}

/// The notice of that id in a watershed, withdrawn or not.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed.
pub async fn find_notice(tx: &mut Tx, watershed: &Slug, id: Uuid) -> Result<Option<Notice>, StoreError> {
    const SQL: &str = "SELECT n.id, w.slug AS watershed, r.slug AS reach, n.words, n.from_date, n.until_date, n.audience, \
        n.sequence, n.created_at, n.changed_at, n.withdrawn_at FROM notice n \
        JOIN watershed w ON w.id = n.watershed_id LEFT JOIN reach r ON r.id = n.reach_id \
        WHERE n.id = $1 AND n.watershed_id = $2";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.row("notice", SQL, args![id, watershed_id]).await?.as_ref().map(read_notice).transpose()
}

async fn places(tx: &mut Tx, notice: &Notice) -> Result<(i64, Option<i64>), StoreError> {
    let watershed_id = watershed_id(tx, &notice.watershed).await?;
    let reach_id = match &notice.reach {
        Some(reach) => Some(reach_id(tx, watershed_id, reach).await?),
        None => None,
    };
    Ok((watershed_id, reach_id))
}

fn read_notice(row: &Row) -> Result<Notice, StoreError> {
    Ok(Notice {
        id: row.uuid("id")?,
        watershed: row.slug("watershed")?,
        reach: row.opt_slug("reach")?,
        words: row.text("words")?,
        from: row.date("from_date")?,
        until: row.date("until_date")?,
        audience: row.word("audience", Audience::parse)?,
        sequence: row.number("sequence")?,
        created_at: row.instant("created_at")?,
        changed_at: row.instant("changed_at")?,
        withdrawn_at: row.opt_instant("withdrawn_at")?,
    })
}
