//! "As of": the cut-offs of queries as numbers without gaps.

use chrono::{DateTime, NaiveDate, Utc};

use super::Span;

/// The latest `known_at` or `received_at` let through: all when `None`.
pub(super) fn cut_off(known_by: Option<DateTime<Utc>>) -> i64 {
    known_by.map_or(i64::MAX, |at| at.timestamp_micros())
}

/// Days since 1970-01-01, the key of daily readings.
pub(super) fn day_key(date: NaiveDate) -> i64 {
    (date - NaiveDate::default()).num_days()
}

/// The date of a day key, if there is one.
pub(super) fn day_of_key(key: i64) -> Option<NaiveDate> {
    NaiveDate::default().checked_add_signed(chrono::TimeDelta::try_days(key)?)
}

/// First and last key of a span.
pub(super) fn keys<T>(span: Span<T>, key: impl Fn(T) -> i64) -> (i64, i64) {
    let Span { from, to } = span;
    (from.map_or(i64::MIN, &key), to.map_or(i64::MAX, &key))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn day_keys_count_from_1970_and_return() {
        let date = |y, m, d| NaiveDate::from_ymd_opt(y, m, d).expect("valid");
        assert_eq!(day_key(date(1970, 1, 1)), 0);
        assert_eq!(day_key(date(2000, 3, 1)), 11_017);
        assert_eq!(day_key(date(1969, 12, 31)), -1);
        assert_eq!(day_of_key(11_017), Some(date(2000, 3, 1)));
        assert_eq!(day_of_key(i64::MAX), None);
    }
}
