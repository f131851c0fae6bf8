//! One connection in a transaction, and the one way statements are sent.

use std::pin::Pin;

use futures_util::TryStreamExt as _;
use sqlx::{AssertSqlSafe, Postgres, SqlSafeStr as _, SqlStr, Sqlite, Transaction};

use super::StoreError;
use super::arg::Arg;
use super::dialect::Dialect;
use super::row::{IntoRow as _, Row};

/// One connection in a transaction. Dropped without [`Tx::commit`] it rolls back.
#[derive(Debug)]
pub struct Tx {
    inner: Inner,
}

/// Work of a driver, boxed: it is then compiled once, here. A plain `async fn` is compiled again in
/// every crate that calls it, and the drivers are large (minutes of every test build).
pub(super) type Boxed<'a, T> = Pin<Box<dyn Future<Output = Result<T, StoreError>> + Send + 'a>>;

#[derive(Debug)]
enum Inner {
    Sqlite(Transaction<'static, Sqlite>),
    Postgres(Transaction<'static, Postgres>),
}

/// Expands the same body once per driver.
macro_rules! on_driver {
    ($inner:expr, $tx:ident => $body:expr) => {
        match $inner {
            Inner::Sqlite($tx) => $body,
            Inner::Postgres($tx) => $body,
        }
    };
}

/// A statement with its values bound; the driver follows from where it is sent.
macro_rules! bound {
    ($sql:expr, $args:expr, $persistent:expr) => {{
        let mut query = sqlx::query($sql).persistent($persistent);
        for arg in $args {
            query = match arg {
                Arg::Int(value) => query.bind(value),
                Arg::Real(value) => query.bind(value),
                Arg::Text(value) => query.bind(value),
                Arg::Bytes(value) => query.bind(value),
            };
        }
        query
    }};
}

impl Tx {
    pub(super) fn sqlite(tx: Transaction<'static, Sqlite>) -> Self {
        Self { inner: Inner::Sqlite(tx) }
    }

    pub(super) fn postgres(tx: Transaction<'static, Postgres>) -> Self {
        Self { inner: Inner::Postgres(tx) }
    }

    pub(super) fn dialect(&self) -> Dialect {
        match self.inner {
            Inner::Sqlite(_) => Dialect::Sqlite,
            Inner::Postgres(_) => Dialect::Postgres,
        }
    }

    /// Makes everything done in this transaction last. On return it is on disk.
    ///
    /// # Errors
    /// [`StoreError::Database`]; whether the change lasted is then unknown only if the connection broke.
    pub async fn commit(self) -> Result<(), StoreError> {
        self.finish().await
    }

    fn finish(self) -> Boxed<'static, ()> {
        Box::pin(async move {
            on_driver!(self.inner, tx => tx.commit().await)?;
            Ok(())
        })
    }

    /// Sends a statement; returns the number of rows it changed.
    pub(super) async fn execute(&mut self, sql: &'static str, args: Vec<Arg>) -> Result<u64, StoreError> {
        self.send(sql.into_sql_str(), args, true).await
    }

    /// Sends a statement built from fixed texts and numbered placeholders by [`Dialect`].
    /// Whether it will be sent again and is worth remembering is for the caller to say.
    pub(super) async fn execute_built(&mut self, sql: String, args: Vec<Arg>, again: bool) -> Result<u64, StoreError> {
        self.send(AssertSqlSafe(sql).into_sql_str(), args, again).await
    }

    /// All rows of an answer; `table` is named in errors.
    pub(super) async fn rows(
        &mut self,
        table: &'static str,
        sql: &'static str,
        args: Vec<Arg>,
    ) -> Result<Vec<Row>, StoreError> {
        self.fetch(table, sql.into_sql_str(), args, true).await
    }

    /// As [`Tx::rows`], for a statement built by [`Dialect`].
    pub(super) async fn rows_built(
        &mut self,
        table: &'static str,
        sql: String,
        args: Vec<Arg>,
    ) -> Result<Vec<Row>, StoreError> {
        self.fetch(table, AssertSqlSafe(sql).into_sql_str(), args, false).await
    }

    /// The first row of an answer, if any.
    pub(super) async fn row(
        &mut self,
        table: &'static str,
        sql: &'static str,
        args: Vec<Arg>,
    ) -> Result<Option<Row>, StoreError> {
        Ok(self.rows(table, sql, args).await?.into_iter().next())
    }

    /// Gives `take` the rows of an answer one by one, so that a long one never stands in memory.
    pub(super) fn each<'t>(
        &'t mut self,
        table: &'static str,
        sql: &'static str,
        args: Vec<Arg>,
        take: &'t mut (dyn FnMut(Row) -> Result<(), StoreError> + Send),
    ) -> Boxed<'t, ()> {
        Box::pin(async move {
            check(&args)?;
            on_driver!(&mut self.inner, tx => {
                let mut rows = bound!(sql.into_sql_str(), args, true).fetch(&mut **tx);
                while let Some(row) = rows.try_next().await? {
                    take(row.into_row(table))?;
                }
            });
            Ok(())
        })
    }

    fn send(&mut self, sql: SqlStr, args: Vec<Arg>, persistent: bool) -> Boxed<'_, u64> {
        Box::pin(async move {
            check(&args)?;
            let changed = on_driver!(&mut self.inner, tx => {
                bound!(sql, args, persistent).execute(&mut **tx).await.map(|done| done.rows_affected())
            })?;
            Ok(changed)
        })
    }

    fn fetch(&mut self, table: &'static str, sql: SqlStr, args: Vec<Arg>, persistent: bool) -> Boxed<'_, Vec<Row>> {
        Box::pin(async move {
            check(&args)?;
            let rows = on_driver!(&mut self.inner, tx => {
                let rows = bound!(sql, args, persistent).fetch_all(&mut **tx).await?;
                rows.into_iter().map(|row| row.into_row(table)).collect()
            });
            Ok(rows)
        })
    }
}

fn check(args: &[Arg]) -> Result<(), StoreError> {
    args.iter().try_for_each(Arg::check)
}
