//! Identifiers, and whole numbers as JSON writes them: `2` and `2.0` are the same integer (JSON Schema 2020-12,
//! section 4.2.3 of the core document, from memory).

use serde::de::{Deserialize, Deserializer, Error};
use serde_json::Value;
use uuid::Uuid;

/// Reads an optional whole number that fits `u32`.
///
/// # Errors
/// When it is not a whole number from 0 to 4294967295.
pub fn optional_u32<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<u32>, D::Error> {
    optional_i64(deserializer)?
        .map(|whole| u32::try_from(whole).map_err(|_| D::Error::custom("must be a whole number from 0 to 4294967295")))
        .transpose()
}

/// Reads an optional list of whole numbers that fit `u32`.
///
/// # Errors
/// When one is not a whole number from 0 to 4294967295.
pub fn optional_u32s<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Vec<u32>>, D::Error> {
    #[derive(serde::Deserialize)]
    struct Whole(#[serde(deserialize_with = "optional_u32")] Option<u32>);
    let list = Option::<Vec<Whole>>::deserialize(deserializer)?;
    let missing = || D::Error::custom("must be whole numbers from 0 to 4294967295");
    list.map(|list| list.into_iter().map(|whole| whole.0.ok_or_else(missing)).collect()).transpose()
}

/// Reads an optional whole number.
///
/// # Errors
/// When it is not a whole number.
pub fn optional_i64<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<i64>, D::Error> {
    let fault = || D::Error::custom("must be a whole number");
    match Option::<Value>::deserialize(deserializer)? {
        None | Some(Value::Null) => Ok(None),
        Some(Value::Number(number)) => {
            if let Some(whole) = number.as_i64() {
                return Ok(Some(whole));
            }
            let value = number.as_f64().ok_or_else(fault)?;
            // Every whole f64 below 2^53 is exact.
            if value.fract() == 0.0 && value.abs() < 9_007_199_254_740_992.0 {
                Ok(Some(value as i64))
            } else {
                Err(fault())
            }
        }
        Some(_) => Err(fault()),
    }
}

/// Reads an optional identifier.
///
/// # Errors
/// When it is not a UUID.
pub fn optional_uuid<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Uuid>, D::Error> {
    const RULE: &str = "must be a UUID such as 018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
    match Option::<Value>::deserialize(deserializer)? {
        None | Some(Value::Null) => Ok(None),
        Some(Value::String(text)) => Uuid::try_parse(&text).map(Some).map_err(|_| D::Error::custom(RULE)),
        Some(_) => Err(D::Error::custom(RULE)),
    }
}
