//! Values on their way out of a statement, checked.

use chrono::{DateTime, NaiveDate, NaiveTime, Utc};
use sqlx::postgres::PgRow;
use sqlx::sqlite::SqliteRow;
use sqlx::{ColumnIndex, Decode, Row as _, Type};
use uuid::Uuid;

use super::StoreError;
use crate::domain::{Invalid, Slug};

/// One row of an answer, from either database.
pub(super) struct Row {
    table: &'static str,
    inner: Inner,
}

enum Inner {
    Sqlite(SqliteRow),
    Postgres(PgRow),
}

/// A driver's row as ours.
pub(super) trait IntoRow {
    /// Wraps it; `table` is named in errors.
    fn into_row(self, table: &'static str) -> Row;
}

impl IntoRow for SqliteRow {
    fn into_row(self, table: &'static str) -> Row {
        Row { table, inner: Inner::Sqlite(self) }
    }
}

impl IntoRow for PgRow {
    fn into_row(self, table: &'static str) -> Row {
        Row { table, inner: Inner::Postgres(self) }
    }
}

impl Row {
    fn get<T>(&self, column: &'static str) -> Result<Option<T>, StoreError>
    where
        T: for<'r> Decode<'r, sqlx::Sqlite> + Type<sqlx::Sqlite>,
        T: for<'r> Decode<'r, sqlx::Postgres> + Type<sqlx::Postgres>,
    {
        match &self.inner {
            Inner::Sqlite(row) => row.try_get::<Option<T>, _>(column),
            Inner::Postgres(row) => row.try_get::<Option<T>, _>(column),
        }
        .map_err(|error| self.corrupt(column, error.to_string()))
    }

    /// The first value as text, to name the row.
    fn name(&self) -> String {
        fn first<R: sqlx::Row>(row: &R) -> String
        where
            usize: ColumnIndex<R>,
            for<'r> i64: Decode<'r, R::Database> + Type<R::Database>,
            for<'r> String: Decode<'r, R::Database> + Type<R::Database>,
        {
            row.try_get::<String, _>(0)
                .or_else(|_| row.try_get::<i64, _>(0).map(|number| number.to_string()))
                .unwrap_or_else(|_| "?".to_owned())
        }
        match &self.inner {
            Inner::Sqlite(row) => first(row),
            Inner::Postgres(row) => first(row),
        }
    }

    /// The fault of a damaged value.
    pub(super) fn corrupt(&self, column: &'static str, reason: impl Into<String>) -> StoreError {
        StoreError::Corrupt { table: self.table, column, row: self.name(), reason: reason.into() }
    }

    fn need<T>(&self, column: &'static str, value: Option<T>) -> Result<T, StoreError> {
        value.ok_or_else(|| self.corrupt(column, "is missing"))
    }

    /// A value passed through a check of the domain.
    fn checked<T, E: ToString>(&self, column: &'static str, value: Result<T, E>) -> Result<T, StoreError> {
        value.map_err(|error| self.corrupt(column, error.to_string()))
    }

    pub(super) fn opt_int(&self, column: &'static str) -> Result<Option<i64>, StoreError> {
        self.get(column)
    }

    pub(super) fn int(&self, column: &'static str) -> Result<i64, StoreError> {
        let value = self.get(column)?;
        self.need(column, value)
    }

    pub(super) fn bytes(&self, column: &'static str) -> Result<Vec<u8>, StoreError> {
        let value = self.get(column)?;
        self.need(column, value)
    }

    /// A whole number that must fit `T`.
    pub(super) fn number<T: TryFrom<i64>>(&self, column: &'static str) -> Result<T, StoreError> {
        let value = self.int(column)?;
        self.checked(column, T::try_from(value).map_err(|_| "is out of range"))
    }

    pub(super) fn opt_number<T: TryFrom<i64>>(&self, column: &'static str) -> Result<Option<T>, StoreError> {
        let fit = |value| T::try_from(value).map_err(|_| self.corrupt(column, "is out of range"));
        self.opt_int(column)?.map(fit).transpose()
    }

    pub(super) fn flag(&self, column: &'static str) -> Result<bool, StoreError> {
        match self.int(column)? {
            0 => Ok(false),
            1 => Ok(true),
            _ => Err(self.corrupt(column, "is neither 0 nor 1")),
        }
    }

    pub(super) fn opt_real(&self, column: &'static str) -> Result<Option<f64>, StoreError> {
        self.get(column)
    }

    pub(super) fn real(&self, column: &'static str) -> Result<f64, StoreError> {
        let value = self.get(column)?;
        self.need(column, value)
    }

    pub(super) fn opt_text(&self, column: &'static str) -> Result<Option<String>, StoreError> {
        self.get(column)
    }

    pub(super) fn text(&self, column: &'static str) -> Result<String, StoreError> {
        let value = self.get(column)?;
        self.need(column, value)
    }

    pub(super) fn slug(&self, column: &'static str) -> Result<Slug, StoreError> {
        self.checked(column, Slug::new(&self.text(column)?))
    }

    pub(super) fn opt_slug(&self, column: &'static str) -> Result<Option<Slug>, StoreError> {
        self.opt_word(column, Slug::new)
    }

    pub(super) fn uuid(&self, column: &'static str) -> Result<Uuid, StoreError> {
        self.checked(column, Uuid::parse_str(&self.text(column)?))
    }

    pub(super) fn opt_instant(&self, column: &'static str) -> Result<Option<DateTime<Utc>>, StoreError> {
        let read =
            |micros| DateTime::from_timestamp_micros(micros).ok_or_else(|| self.corrupt(column, "is not an instant"));
        self.opt_int(column)?.map(read).transpose()
    }

    pub(super) fn instant(&self, column: &'static str) -> Result<DateTime<Utc>, StoreError> {
        let value = self.opt_instant(column)?;
        self.need(column, value)
    }

    pub(super) fn opt_date(&self, column: &'static str) -> Result<Option<NaiveDate>, StoreError> {
        let read = |text: String| self.checked(column, text.parse::<NaiveDate>());
        self.opt_text(column)?.map(read).transpose()
    }

    pub(super) fn date(&self, column: &'static str) -> Result<NaiveDate, StoreError> {
        let value = self.opt_date(column)?;
        self.need(column, value)
    }

    pub(super) fn opt_clock_time(&self, column: &'static str) -> Result<Option<NaiveTime>, StoreError> {
        let read = |seconds: u32| {
            NaiveTime::from_num_seconds_from_midnight_opt(seconds, 0)
                .ok_or_else(|| self.corrupt(column, "is not a time of day"))
        };
        self.opt_number(column)?.map(read).transpose()
    }

    /// A word of the domain, read by its own `parse`.
    pub(super) fn word<T>(
        &self,
        column: &'static str,
        parse: impl FnOnce(&str) -> Result<T, Invalid>,
    ) -> Result<T, StoreError> {
        self.checked(column, parse(&self.text(column)?))
    }

    pub(super) fn opt_word<T>(
        &self,
        column: &'static str,
        parse: impl FnOnce(&str) -> Result<T, Invalid>,
    ) -> Result<Option<T>, StoreError> {
        self.opt_text(column)?.map(|text| self.checked(column, parse(&text))).transpose()
    }

    /// A list of words kept as JSON text; missing means empty.
    pub(super) fn words(&self, column: &'static str) -> Result<Vec<String>, StoreError> {
        let text = self.opt_text(column)?;
        text.map_or_else(|| Ok(Vec::new()), |text| self.checked(column, serde_json::from_str(&text)))
    }
}
