//! The pools: opening, migrating, beginning transactions.

use std::str::FromStr as _;
use std::time::Duration;

use sqlx::migrate::Migrator;
use sqlx::postgres::{PgConnectOptions, PgPoolOptions};
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Connection as _, PgPool, SqlitePool};

use super::tx::Boxed;
use super::{StoreError, Tx};

static SQLITE_MIGRATIONS: Migrator = sqlx::migrate!("./migrations/sqlite");
static POSTGRES_MIGRATIONS: Migrator = sqlx::migrate!("./migrations/postgres");

/// Oldest SQLite without the fault in which two connections that write and checkpoint at one
/// instant lose committed pages (3.7.0 to 3.51.2).
const SQLITE_NEEDED: &str = "3.51.3";

/// How long SQLite waits for another process's lock.
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);
/// How long a transaction waits for a connection.
const ACQUIRE_TIMEOUT: Duration = Duration::from_secs(30);
/// Connections that read SQLite at once.
const SQLITE_READERS: u32 = 4;
/// Connections to PostgreSQL.
const POSTGRES_CONNECTIONS: u32 = 10;

/// The database. Cheap to clone.
#[derive(Debug, Clone)]
pub enum Db {
    /// A file, opened by this process.
    Sqlite {
        /// One connection, so that writers wait in line instead of failing.
        writer: SqlitePool,
        /// Connections that cannot write.
        readers: SqlitePool,
    },
    /// A server.
    Postgres(PgPool),
}

/// How the schema in the database compares with the one this program knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SchemaState {
    /// The same.
    Current,
    /// This many migrations are still to be run.
    Pending(usize),
    /// The database is ahead of this program.
    Newer {
        /// Highest migration applied.
        found: i64,
        /// Highest migration known.
        known: i64,
    },
}

impl Db {
    /// Opens `sqlite://path` (a missing file is created) or `postgres://...`. Does not migrate.
    ///
    /// # Errors
    /// [`StoreError::Address`], [`StoreError::TooOld`] or [`StoreError::Database`].
    pub async fn connect(url: &str) -> Result<Self, StoreError> {
        Self::open(url).await
    }

    fn open(url: &str) -> Boxed<'_, Self> {
        Box::pin(async move {
            match url.split_once(':').map(|(scheme, _)| scheme) {
                Some("sqlite") => Self::connect_sqlite(url).await,
                Some("postgres" | "postgresql") => {
                    let options =
                        PgConnectOptions::from_str(url).map_err(|error| address(&error))?.application_name("subimago");
                    let pool = PgPoolOptions::new()
                        .max_connections(POSTGRES_CONNECTIONS)
                        .acquire_timeout(ACQUIRE_TIMEOUT)
                        .connect_with(options)
                        .await?;
                    Ok(Self::Postgres(pool))
                }
                _ => Err(StoreError::Address { reason: "begin with sqlite:// or postgres://".to_owned() }),
            }
        })
    }

    async fn connect_sqlite(url: &str) -> Result<Self, StoreError> {
        let options = SqliteConnectOptions::from_str(url).map_err(|error| address(&error))?;
        let nameless = options.get_filename().as_os_str().is_empty();
        if nameless || url.contains(":memory:") || url.contains("mode=memory") {
            return Err(StoreError::Address { reason: "name a file: memory is not shared by connections".to_owned() });
        }
        let options = options.foreign_keys(true).busy_timeout(BUSY_TIMEOUT);
        // No connection is closed for age: the last one to close would delete the log the others read.
        // On a full disk SQLite rolls back by itself; the driver, not knowing, then fails to roll back
        // and would begin every later transaction inside the lost one. Such a connection is replaced.
        let pool = || {
            SqlitePoolOptions::new()
                .acquire_timeout(ACQUIRE_TIMEOUT)
                .max_lifetime(None)
                .idle_timeout(None)
                .before_acquire(|connection, _| Box::pin(async move { Ok(!connection.is_in_transaction()) }))
        };
        let writing = options
            .clone()
            .create_if_missing(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full)
            // What is erased must not live on in free pages.
            .pragma("secure_delete", "ON");
        let writer = pool().max_connections(1).connect_with(writing).await?;
        let found: String = sqlx::query_scalar("SELECT sqlite_version()").fetch_one(&writer).await?;
        if version_numbers(&found) < version_numbers(SQLITE_NEEDED) {
            return Err(StoreError::TooOld { found, needed: SQLITE_NEEDED });
        }
        let reading = options.create_if_missing(false).read_only(true);
        let readers = pool().max_connections(SQLITE_READERS).connect_with(reading).await?;
        Ok(Self::Sqlite { writer, readers })
    }

    /// `SQLite` or `PostgreSQL`.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Sqlite { .. } => "SQLite",
            Self::Postgres(_) => "PostgreSQL",
        }
    }

    /// True when a transaction may write while another does.
    #[must_use]
    pub fn has_many_writers(&self) -> bool {
        matches!(self, Self::Postgres(_))
    }

    /// Runs the migrations that are still to be run; each is all or nothing.
    ///
    /// # Errors
    /// [`StoreError::NewerSchema`] when the database is ahead; [`StoreError::Migrate`].
    pub async fn migrate(&self) -> Result<(), StoreError> {
        self.run_migrations().await
    }

    fn run_migrations(&self) -> Boxed<'_, ()> {
        Box::pin(async move {
            let mut left = usize::MAX;
            loop {
                if let SchemaState::Newer { found, known } = self.schema_state().await? {
                    return Err(StoreError::NewerSchema { found, known });
                }
                let ran = match self {
                    Self::Sqlite { writer, .. } => SQLITE_MIGRATIONS.run(writer).await,
                    Self::Postgres(pool) => POSTGRES_MIGRATIONS.run(pool).await,
                };
                let Err(error) = ran else { return Ok(()) };
                // Another process may be running the same migrations: what it has done is left to do no more.
                match self.schema_state().await? {
                    SchemaState::Current => return Ok(()),
                    SchemaState::Pending(now) if now < left => left = now,
                    _ => return Err(StoreError::Migrate(error)),
                }
            }
        })
    }

    /// Compares the schema in the database with the one this program knows.
    ///
    /// # Errors
    /// [`StoreError::Database`].
    pub async fn schema_state(&self) -> Result<SchemaState, StoreError> {
        self.compare_schema().await
    }

    fn compare_schema(&self) -> Boxed<'_, SchemaState> {
        const TABLE_SQLITE: &str = "SELECT count(*) FROM sqlite_master WHERE name = '_sqlx_migrations'";
        const TABLE_POSTGRES: &str = "SELECT count(*) FROM pg_class WHERE oid = to_regclass('_sqlx_migrations')";
        const APPLIED: &str = "SELECT version FROM _sqlx_migrations WHERE success ORDER BY version";
        Box::pin(async move {
            let (known, applied): (&Migrator, Vec<i64>) = match self {
                Self::Sqlite { readers, .. } => {
                    let tables: i64 = sqlx::query_scalar(TABLE_SQLITE).fetch_one(readers).await?;
                    let applied =
                        if tables == 0 { Vec::new() } else { sqlx::query_scalar(APPLIED).fetch_all(readers).await? };
                    (&SQLITE_MIGRATIONS, applied)
                }
                Self::Postgres(pool) => {
                    let tables: i64 = sqlx::query_scalar(TABLE_POSTGRES).fetch_one(pool).await?;
                    let applied =
                        if tables == 0 { Vec::new() } else { sqlx::query_scalar(APPLIED).fetch_all(pool).await? };
                    (&POSTGRES_MIGRATIONS, applied)
                }
            };
            let newest_known = known.iter().map(|migration| migration.version).max().unwrap_or(0);
            let newest_found = applied.last().copied().unwrap_or(0);
            let pending = known.iter().filter(|migration| !applied.contains(&migration.version)).count();
            Ok(if newest_found > newest_known {
                SchemaState::Newer { found: newest_found, known: newest_known }
            } else if pending > 0 {
                SchemaState::Pending(pending)
            } else {
                SchemaState::Current
            })
        })
    }

    /// Asks the database for an answer.
    ///
    /// # Errors
    /// [`StoreError::Database`] or [`StoreError::Busy`].
    pub async fn ping(&self) -> Result<(), StoreError> {
        self.ask().await
    }

    fn ask(&self) -> Boxed<'_, ()> {
        Box::pin(async move {
            match self {
                Self::Sqlite { readers, .. } => sqlx::query("SELECT 1").execute(readers).await.map(drop)?,
                Self::Postgres(pool) => sqlx::query("SELECT 1").execute(pool).await.map(drop)?,
            }
            Ok(())
        })
    }

    /// Begins a transaction that may write. On SQLite it holds the one writer from here on, so that
    /// what it reads cannot change before it writes.
    ///
    /// # Errors
    /// [`StoreError::Busy`] after 30 seconds in line; [`StoreError::Database`].
    pub async fn write(&self) -> Result<Tx, StoreError> {
        self.begin_write().await
    }

    fn begin_write(&self) -> Boxed<'_, Tx> {
        Box::pin(async move {
            Ok(match self {
                Self::Sqlite { writer, .. } => Tx::sqlite(writer.begin_with("BEGIN IMMEDIATE").await?),
                Self::Postgres(pool) => Tx::postgres(pool.begin().await?),
            })
        })
    }

    /// Begins a transaction that only reads and sees one moment throughout.
    ///
    /// # Errors
    /// [`StoreError::Busy`] after 30 seconds in line; [`StoreError::Database`].
    pub async fn read(&self) -> Result<Tx, StoreError> {
        self.begin_read().await
    }

    fn begin_read(&self) -> Boxed<'_, Tx> {
        Box::pin(async move {
            Ok(match self {
                Self::Sqlite { readers, .. } => Tx::sqlite(readers.begin().await?),
                Self::Postgres(pool) => {
                    Tx::postgres(pool.begin_with("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY").await?)
                }
            })
        })
    }

    /// Closes all connections, readers first, so that SQLite folds its log into the file.
    pub async fn close(&self) {
        match self {
            Self::Sqlite { writer, readers } => {
                readers.close().await;
                writer.close().await;
            }
            Self::Postgres(pool) => pool.close().await,
        }
    }
}

/// The reason of a refused address without the address, which may hold a password.
fn address(error: &sqlx::Error) -> StoreError {
    StoreError::Address { reason: error.to_string() }
}

fn version_numbers(text: &str) -> Vec<u32> {
    text.split('.').map(|part| part.parse().unwrap_or(0)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_compare_as_numbers() {
        assert!(version_numbers("3.9.0") < version_numbers(SQLITE_NEEDED));
        assert!(version_numbers("3.51.2") < version_numbers(SQLITE_NEEDED));
        assert!(version_numbers("3.51.3") >= version_numbers(SQLITE_NEEDED));
        assert!(version_numbers("3.53.0") >= version_numbers(SQLITE_NEEDED));
        assert!(version_numbers("4.0") >= version_numbers(SQLITE_NEEDED));
    }
}
