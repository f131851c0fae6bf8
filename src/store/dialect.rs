//! Where the two databases need different words: bulk insert, row locks, job claim, wake-up.

use super::arg::Arg;
use super::{StoreError, Tx};

/// Which database is spoken to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Dialect {
    Sqlite,
    Postgres,
}

/// Most values in one statement: PostgreSQL's protocol counts them in 16 bits, SQLite stops at 32766.
const MOST_VALUES: usize = 30_000;

/// Most rows in one statement; more gained nothing measurable.
const MOST_ROWS: usize = 1000;

impl Dialect {
    /// Appends `(p, p, ...)` for `count` values, the first being number `first`.
    ///
    /// SQLite gets bare `?`: it looks up every named or numbered parameter in a list, which is
    /// quadratic in their number.
    fn tuple(self, sql: &mut String, first: usize, count: usize) {
        sql.push('(');
        for number in first..first + count {
            if number > first {
                sql.push(',');
            }
            sql.push_str(&self.placeholder(number));
        }
        sql.push(')');
    }

    /// `head` followed by a list of `count` values in brackets, numbered from 1: for `... IN (...)`.
    pub(super) fn in_list(self, head: &'static str, count: usize) -> String {
        let mut sql = String::from(head);
        self.tuple(&mut sql, 1, count);
        sql
    }

    /// The placeholder of value `number` in a built statement, where values follow in order.
    pub(super) fn placeholder(self, number: usize) -> String {
        match self {
            Self::Sqlite => "?".to_owned(),
            Self::Postgres => format!("${number}"),
        }
    }

    /// Locks a watershed row against other writers of its rows until the transaction ends. SQLite has
    /// one writer anyway.
    pub(super) fn lock_watershed(self) -> &'static str {
        match self {
            Self::Sqlite => "SELECT id FROM watershed WHERE id = $1",
            Self::Postgres => "SELECT id FROM watershed WHERE id = $1 FOR NO KEY UPDATE",
        }
    }

    /// The same for the taxon of slug key $1.
    pub(super) fn lock_taxon(self) -> &'static str {
        match self {
            Self::Sqlite => "SELECT id FROM taxon WHERE slug_key = $1",
            Self::Postgres => "SELECT id FROM taxon WHERE slug_key = $1 FOR NO KEY UPDATE",
        }
    }

    /// Takes the next job: $1 now, $2 end of the lease, $3 its kind or null for any, $4 a
    /// kind that is left to others or null.
    pub(super) fn claim_job(self) -> &'static str {
        macro_rules! claim {
            ($lock:literal) => {
                concat!(
                    "UPDATE job SET state = 'running', attempts = attempts + 1, fence = fence + 1, ",
                    "updated_at = $1, lease_until_at = $2 WHERE sequence = (",
                    "SELECT sequence FROM job WHERE ((state = 'queued' AND not_before_at <= $1) ",
                    "OR (state = 'running' AND lease_until_at < $1)) AND ($3 IS NULL OR kind = $3) ",
                    "AND ($4 IS NULL OR kind <> $4) ",
                    "ORDER BY sequence LIMIT 1",
                    $lock,
                    ") RETURNING id"
                )
            };
        }
        match self {
            Self::Sqlite => claim!(""),
            Self::Postgres => claim!(" FOR UPDATE SKIP LOCKED"),
        }
    }

    /// Finds the job of watershed $1, kind $2 and arguments $3 that waits longest, and keeps workers from it until the
    /// transaction ends; they pass over it. Others that find it do not wait.
    pub(super) fn hold_queued_job(self) -> &'static str {
        macro_rules! hold {
            ($lock:literal) => {
                concat!(
                    "SELECT id FROM job WHERE watershed_id = $1 AND state = 'queued' AND kind = $2 ",
                    "AND arguments = $3 ORDER BY sequence LIMIT 1",
                    $lock
                )
            };
        }
        match self {
            Self::Sqlite => hold!(""),
            Self::Postgres => hold!(" FOR SHARE"),
        }
    }

    /// Tells other processes, once the transaction commits, that forecasts changed.
    pub(super) fn notify_forecasts(self) -> Option<&'static str> {
        match self {
            Self::Sqlite => None,
            Self::Postgres => Some("SELECT pg_notify('subimago_forecasts', '')"),
        }
    }
}

/// The channel of [`Dialect::notify_forecasts`].
pub(super) const FORECAST_CHANNEL: &str = "subimago_forecasts";

/// Inserts many rows: `head` is `INSERT INTO table (columns) VALUES `.
///
/// # Errors
/// As any statement. Rows are sent in several statements of one transaction.
pub(super) async fn insert_many(tx: &mut Tx, head: &'static str, rows: Vec<Vec<Arg>>) -> Result<(), StoreError> {
    let Some(width) = rows.first().map(Vec::len) else { return Ok(()) };
    let most = (MOST_VALUES / width.max(1)).clamp(1, MOST_ROWS);
    let statement = |dialect: Dialect, rows: usize| {
        let mut sql = String::from(head);
        for index in 0..rows {
            if index > 0 {
                sql.push(',');
            }
            dialect.tuple(&mut sql, index * width + 1, width);
        }
        sql
    };
    // The statement of most rows is the same every time: a database that has read it once need not again.
    let full = if rows.len() >= most { statement(tx.dialect(), most) } else { String::new() };
    let mut rows = rows.into_iter();
    while rows.len() > 0 {
        let count = rows.len().min(most);
        let mut args = Vec::with_capacity(count * width);
        rows.by_ref().take(count).for_each(|row| args.extend(row));
        if count == most {
            tx.execute_built(full.clone(), args, true).await?;
        } else {
            tx.execute_built(statement(tx.dialect(), count), args, false).await?;
        }
    }
    Ok(())
}
