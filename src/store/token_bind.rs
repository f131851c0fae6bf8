//! Binding a token to a further watershed.

use uuid::Uuid;

use super::arg::args;
use super::keys::watershed_id;
use super::{StoreError, Tx};
use crate::domain::Slug;

/// Binds the token of that id to `watershed` as well.
///
/// # Errors
/// [`StoreError::UnknownReference`] for the watershed; [`StoreError::Conflict`] for the token.
pub async fn bind_token(tx: &mut Tx, id: Uuid, watershed: &Slug) -> Result<(), StoreError> {
    const SQL: &str = "INSERT INTO token_watershed (token_id, watershed_id) VALUES ($1, $2) ON CONFLICT DO NOTHING";
    let watershed_id = watershed_id(tx, watershed).await?;
    tx.execute(SQL, args![id, watershed_id]).await?;
    Ok(())
}
