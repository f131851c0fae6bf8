//! Opening the database for a command or the service.

use thiserror::Error;

use super::{AppError, seed_names};
use crate::clock::Clock;
use crate::store::SchemaState;
pub use crate::store::{Db, StoreError};

/// Why a database cannot be used.
#[derive(Debug, Error)]
pub enum OpenError {
    /// It cannot be reached or read.
    #[error("the database cannot be opened")]
    Store(#[from] StoreError),
    /// What came with the program cannot be added to it.
    #[error("the taxa that come with the program cannot be added to")]
    Seed(#[from] Box<AppError>),
    /// It was made by a newer program.
    #[error("the database has schema {found}, this program knows schemas up to {known}: use a newer program")]
    Ahead {
        /// Highest migration applied.
        found: i64,
        /// Highest migration known.
        known: i64,
    },
}

/// Opens the database at `url` and brings it to this program's schema. Each migration is all or
/// nothing, and several processes may start at once.
///
/// # Errors
/// [`OpenError`].
pub async fn open(url: &str, clock: &dyn Clock) -> Result<Db, OpenError> {
    let db = Db::connect(url).await?;
    match db.schema_state().await? {
        SchemaState::Current => {}
        SchemaState::Pending(_) => db.migrate().await?,
        SchemaState::Newer { found, known } => return Err(OpenError::Ahead { found, known }),
    }
    let added = seed_names::add_missing(&db, clock.now()).await.map_err(Box::new)?;
    if added > 0 {
        tracing::info!(taxa = added, "usual names, looks and waters of seasons that came with the program were added");
    }
    Ok(db)
}
