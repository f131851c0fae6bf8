//! Values on their way into a statement.

use chrono::{DateTime, NaiveDate, NaiveTime, Timelike, Utc};
use uuid::Uuid;

use super::StoreError;
use crate::domain::Slug;

/// One bound value, of one of the four types both databases share. A missing value keeps its type,
/// which PostgreSQL asks for.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Arg {
    /// Whole number, flag or instant.
    Int(Option<i64>),
    /// Measured value.
    Real(Option<f64>),
    /// Text.
    Text(Option<String>),
    /// A file.
    Bytes(Option<Vec<u8>>),
}

impl Arg {
    /// Refuses what SQLite and PostgreSQL keep differently.
    pub(super) fn check(&self) -> Result<(), StoreError> {
        match self {
            Self::Real(Some(value)) if value.is_nan() => Err(StoreError::Unstorable { reason: "not a number" }),
            Self::Text(Some(text)) if text.contains('\0') => {
                Err(StoreError::Unstorable { reason: "text with a NUL character" })
            }
            _ => Ok(()),
        }
    }
}

/// A domain value with a stored form.
pub(super) trait Storable {
    /// The stored form; `None` gives a missing value of the right type.
    fn arg(value: Option<&Self>) -> Arg;
}

macro_rules! storable {
    ($($kind:ty => $variant:ident($value:ident) $form:expr;)*) => { $(
        impl Storable for $kind {
            fn arg(value: Option<&Self>) -> Arg { Arg::$variant(value.map(|$value| $form)) }
        }
        impl From<&$kind> for Arg {
            fn from(value: &$kind) -> Self { <$kind as Storable>::arg(Some(value)) }
        }
        impl From<$kind> for Arg {
            fn from(value: $kind) -> Self { <$kind as Storable>::arg(Some(&value)) }
        }
        impl From<Option<&$kind>> for Arg {
            fn from(value: Option<&$kind>) -> Self { <$kind as Storable>::arg(value) }
        }
        impl From<Option<$kind>> for Arg {
            fn from(value: Option<$kind>) -> Self { <$kind as Storable>::arg(value.as_ref()) }
        }
        impl From<&Option<$kind>> for Arg {
            fn from(value: &Option<$kind>) -> Self { <$kind as Storable>::arg(value.as_ref()) }
        }
    )* };
}

storable! {
    i64 => Int(value) *value;
    i32 => Int(value) i64::from(*value);
    u32 => Int(value) i64::from(*value);
    u16 => Int(value) i64::from(*value);
    u8 => Int(value) i64::from(*value);
    bool => Int(value) i64::from(*value);
    DateTime<Utc> => Int(value) value.timestamp_micros();
    NaiveTime => Int(value) i64::from(value.num_seconds_from_midnight());
    f64 => Real(value) *value;
    String => Text(value) value.clone();
    NaiveDate => Text(value) value.to_string();
    Uuid => Text(value) value.to_string();
    Slug => Text(value) value.as_str().to_owned();
}

impl From<&[u8]> for Arg {
    fn from(value: &[u8]) -> Self {
        Self::Bytes(Some(value.to_owned()))
    }
}

impl From<&str> for Arg {
    fn from(value: &str) -> Self {
        Self::Text(Some(value.to_owned()))
    }
}

impl From<Option<&str>> for Arg {
    fn from(value: Option<&str>) -> Self {
        Self::Text(value.map(str::to_owned))
    }
}

/// A list of words as JSON text, missing when empty.
pub(super) fn words(list: &[String]) -> Arg {
    Arg::Text((!list.is_empty()).then(|| serde_json::Value::from(list).to_string()))
}

/// Builds the values of one statement.
macro_rules! args {
    ($($value:expr),* $(,)?) => { vec![$($crate::store::arg::Arg::from($value)),*] };
}
pub(super) use args;
