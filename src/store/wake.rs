//! Waking up when another process publishes.

use sqlx::postgres::PgListener;

use super::dialect::FORECAST_CHANNEL;
use super::{Db, StoreError};

/// Hears of publications by other processes.
#[derive(Debug)]
pub struct Listener {
    inner: PgListener,
}

impl Listener {
    /// Waits for the next publication, or for the connection to have been lost and made again, when
    /// one may have been missed.
    ///
    /// # Errors
    /// [`StoreError::Database`] when the server cannot be reached again.
    pub async fn published(&mut self) -> Result<(), StoreError> {
        self.inner.try_recv().await?;
        Ok(())
    }
}

impl Db {
    /// A listener on PostgreSQL. On SQLite `None`: look at the generation of the forecasts instead.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn listener(&self) -> Result<Option<Listener>, StoreError> {
        match self {
            Self::Sqlite { .. } => Ok(None),
            Self::Postgres(pool) => {
                let mut inner = PgListener::connect_with(pool).await?;
                inner.listen(FORECAST_CHANNEL).await?;
                Ok(Some(Listener { inner }))
            }
        }
    }
}
