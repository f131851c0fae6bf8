//! What an answer says about time and rate.

use chrono::{DateTime, TimeDelta, Utc};
use reqwest::header::{CACHE_CONTROL, EXPIRES, HeaderMap, RETRY_AFTER};

/// Longest pause that is believed.
const LONGEST: TimeDelta = TimeDelta::days(7);
/// How long a used-up rate lasts when the service does not say; the limits we know are by the hour.
const RATE_PERIOD: TimeDelta = TimeDelta::hours(1);

fn text<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    headers.get(name)?.to_str().ok().map(str::trim)
}

/// An HTTP date.
pub(super) fn date(text: &str) -> Option<DateTime<Utc>> {
    DateTime::parse_from_rfc2822(text).ok().map(|at| at.to_utc())
}

/// Until when a service asks to be left alone: seconds or a date.
pub(super) fn retry_after(headers: &HeaderMap, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let text = text(headers, RETRY_AFTER.as_str())?;
    let until = match text.parse::<u32>() {
        Ok(seconds) => now + TimeDelta::seconds(seconds.into()),
        Err(_) => date(text)?,
    };
    Some(until.clamp(now, now + LONGEST))
}

/// Until when no more requests are left, if none are.
pub(super) fn used_up_until(headers: &HeaderMap, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let left: i64 = text(headers, "x-ratelimit-remaining")?.parse().ok()?;
    if left > 0 {
        return None;
    }
    let reset = text(headers, "x-ratelimit-reset").and_then(|text| text.parse::<i64>().ok());
    let until = match reset {
        // A small number counts seconds, a large one is an instant.
        Some(seconds) if (0..=604_800).contains(&seconds) => now + TimeDelta::seconds(seconds),
        Some(instant) => DateTime::from_timestamp(instant, 0).unwrap_or(now + RATE_PERIOD),
        None => retry_after(headers, now).unwrap_or(now + RATE_PERIOD),
    };
    Some(until.clamp(now, now + LONGEST))
}

/// Until when an answer is fresh.
pub(super) fn fresh_until(headers: &HeaderMap, now: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let max_age = text(headers, CACHE_CONTROL.as_str()).and_then(|text| {
        let mut parts = text.split(',').map(str::trim);
        parts.find_map(|part| part.strip_prefix("max-age=")).and_then(|text| text.parse::<u32>().ok())
    });
    let until = match max_age {
        Some(seconds) => now + TimeDelta::seconds(seconds.into()),
        None => date(text(headers, EXPIRES.as_str())?)?,
    };
    (until > now).then(|| until.min(now + LONGEST))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn headers(pairs: &[(&'static str, &str)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (name.parse().expect("a name"), value.parse().expect("a value"))).collect()
    }

    #[test]
    fn pauses_are_read_as_seconds_or_dates() {
        let now = date("Mon, 20 Jul 2020 11:44:31 GMT").expect("a date");
        let wait = |text| retry_after(&headers(&[("retry-after", text)]), now).map(|until| (until - now).num_seconds());
        assert_eq!([wait("30"), wait("Mon, 20 Jul 2020 11:45:01 GMT"), wait("soon")], [Some(30), Some(30), None]);
        assert_eq!([wait("Mon, 20 Jul 2019 11:45:01 GMT"), wait("4000000000")], [None, Some(604_800)]);
        assert_eq!(wait("Sat, 20 Jul 2019 11:45:01 GMT"), Some(0), "the past is now");
    }

    #[test]
    fn rates_and_freshness() {
        let now = date("Mon, 20 Jul 2020 11:44:31 GMT").expect("a date");
        let left =
            |pairs: &[(&'static str, &str)]| used_up_until(&headers(pairs), now).map(|at| (at - now).num_seconds());
        assert_eq!(left(&[("x-ratelimit-remaining", "7")]), None);
        assert_eq!(left(&[("x-ratelimit-remaining", "0")]), Some(3600));
        assert_eq!(left(&[("x-ratelimit-remaining", "0"), ("x-ratelimit-reset", "90")]), Some(90));
        assert_eq!(left(&[("x-ratelimit-remaining", "0"), ("x-ratelimit-reset", "1595245481")]), Some(10));
        let fresh =
            |pairs: &[(&'static str, &str)]| fresh_until(&headers(pairs), now).map(|at| (at - now).num_seconds());
        assert_eq!(fresh(&[("expires", "Mon, 20 Jul 2020 12:14:53 GMT")]), Some(1822));
        assert_eq!(fresh(&[("cache-control", "public, max-age=60"), ("expires", "0")]), Some(60));
        assert_eq!([fresh(&[("expires", "0")]), fresh(&[])], [None, None]);
    }
}
