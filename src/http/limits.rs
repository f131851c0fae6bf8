//! How often an address may show a wrong token, and a token may write.

use std::collections::HashMap;
use std::hash::Hash;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Arc, Mutex, PoisonError};

use axum::http::header::HeaderName;
use axum::http::{HeaderMap, HeaderValue};
use chrono::{DateTime, Duration, Utc};
use uuid::Uuid;

/// Wrong tokens an address may show within a minute.
const WRONG_TOKENS: Policy = Policy { name: "wrong-tokens", quota: 10, window_s: 60 };
/// Callers remembered at once; those whose windows have ended go first.
const MOST_CALLERS: usize = 10_000;

const RATE_LIMIT: HeaderName = HeaderName::from_static("ratelimit");
const RATE_LIMIT_POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");

/// At most `quota` within a window of `window_s` seconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Policy {
    name: &'static str,
    quota: u32,
    window_s: u32,
}

/// Where a caller stands with all policies it is held to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Standing {
    policies: Vec<Policy>,
    /// The policy nearest to its end.
    worst: &'static str,
    /// What it still allows.
    left: u32,
    /// Seconds until it starts anew.
    pub(crate) reset_s: u64,
}

impl Standing {
    /// Says it in the two fields of draft-ietf-httpapi-ratelimit-headers (form from memory).
    pub(crate) fn tell(&self, headers: &mut HeaderMap) {
        let policies: Vec<String> =
            self.policies.iter().map(|p| format!("\"{}\";q={};w={}", p.name, p.quota, p.window_s)).collect();
        let now = format!("\"{}\";r={};t={}", self.worst, self.left, self.reset_s);
        for (name, text) in [(RATE_LIMIT_POLICY, policies.join(", ")), (RATE_LIMIT, now)] {
            if let Ok(value) = HeaderValue::from_str(&text) {
                headers.insert(name, value);
            }
        }
    }
}

/// Carries a [`Standing`] from where a caller is known to where its answer gets its headers.
#[derive(Debug, Clone, Default)]
pub(crate) struct Slip(Arc<Mutex<Option<Standing>>>);

impl Slip {
    /// Notes where the caller stands.
    pub(crate) fn fill(&self, standing: Standing) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(standing);
    }

    /// What was noted.
    pub(crate) fn read(&self) -> Option<Standing> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

/// Start of a window and what was counted in it, one per policy.
type Windows = Vec<(DateTime<Utc>, u32)>;

/// Counts by caller in windows that start with the first count.
#[derive(Debug)]
struct Counter<K> {
    policies: Vec<Policy>,
    windows: Mutex<HashMap<K, Windows>>,
}

impl<K: Eq + Hash> Counter<K> {
    fn new(policies: Vec<Policy>) -> Self {
        Self { policies, windows: Mutex::default() }
    }

    /// Counts one unless something is used up; tells where `caller` stands, and whether it was counted.
    fn take(&self, caller: K, now: DateTime<Utc>) -> (Standing, bool) {
        let mut all = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        if all.len() >= MOST_CALLERS {
            self.forget(&mut all, now);
        }
        let windows = all.entry(caller).or_insert_with(|| vec![(now, 0); self.policies.len()]);
        for (window, policy) in windows.iter_mut().zip(&self.policies) {
            if !runs(window.0, *policy, now) {
                *window = (now, 0);
            }
        }
        let free = windows.iter().zip(&self.policies).all(|((_, count), policy)| *count < policy.quota);
        if free {
            for (_, count) in windows.iter_mut() {
                *count += 1;
            }
        }
        (self.standing(windows, now), free)
    }

    /// Where `caller` stands; `None` before its first count.
    fn look(&self, caller: &K, now: DateTime<Utc>) -> Option<Standing> {
        let all = self.windows.lock().unwrap_or_else(PoisonError::into_inner);
        all.get(caller).map(|windows| self.standing(windows, now))
    }

    fn standing(&self, windows: &Windows, now: DateTime<Utc>) -> Standing {
        let each = windows.iter().zip(&self.policies).map(|((start, count), policy)| {
            let age = now.signed_duration_since(*start).num_seconds();
            let (used, age) = if runs(*start, *policy, now) { (*count, age) } else { (0, 0) };
            let reset_s = u64::try_from(i64::from(policy.window_s) - age).unwrap_or(1);
            (policy.quota.saturating_sub(used), policy.name, reset_s)
        });
        // Of two that allow as little, the one that does so for longer.
        let worst = each.min_by_key(|(left, _, reset_s)| (*left, std::cmp::Reverse(*reset_s)));
        let (left, worst, reset_s) = worst.unwrap_or((u32::MAX, "none", 0));
        Standing { policies: self.policies.clone(), worst, left, reset_s }
    }

    fn forget(&self, all: &mut HashMap<K, Windows>, now: DateTime<Utc>) {
        let longest = self.policies.iter().max_by_key(|policy| policy.window_s).copied();
        let current = |windows: &Windows, now| {
            windows.iter().any(|(start, _)| longest.is_some_and(|policy| runs(*start, policy, now)))
        };
        all.retain(|_, windows| current(windows, now));
        if all.len() >= MOST_CALLERS {
            let half = Duration::seconds(longest.map_or(0, |policy| i64::from(policy.window_s) / 2));
            all.retain(|_, windows| windows.iter().any(|(start, _)| *start > now - half));
        }
        if all.len() >= MOST_CALLERS {
            all.clear();
        }
    }
}

/// A clock set back opens a new window rather than blocking for ever.
fn runs(start: DateTime<Utc>, policy: Policy, now: DateTime<Utc>) -> bool {
    (0..i64::from(policy.window_s)).contains(&now.signed_duration_since(start).num_seconds())
}

/// Counts wrong tokens per address, IPv6 by its /64.
#[derive(Debug)]
pub struct FailureLimiter(Counter<IpAddr>);

impl Default for FailureLimiter {
    fn default() -> Self {
        Self(Counter::new(vec![WRONG_TOKENS]))
    }
}

impl FailureLimiter {
    /// Where `address` stands when it must wait; `None` when it may try now.
    pub(crate) fn blocked(&self, address: IpAddr, now: DateTime<Utc>) -> Option<Standing> {
        self.0.look(&prefix(address), now).filter(|standing| standing.left == 0)
    }

    /// Notes a wrong token.
    pub(crate) fn count(&self, address: IpAddr, now: DateTime<Utc>) -> Standing {
        self.0.take(prefix(address), now).0
    }
}

fn prefix(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => IpAddr::V6(Ipv6Addr::from(u128::from(v6) & !u128::from(u64::MAX))),
        v4 @ IpAddr::V4(_) => v4,
    }
}

/// Counts what tokens write, by the minute and by the day.
#[derive(Debug)]
pub struct WriteLimiter(Counter<Uuid>);

impl WriteLimiter {
    /// Allows a token so many writes a minute and a day.
    #[must_use]
    pub fn new(per_minute: u32, per_day: u32) -> Self {
        Self(Counter::new(vec![
            Policy { name: "writes-per-minute", quota: per_minute, window_s: 60 },
            Policy { name: "writes-per-day", quota: per_day, window_s: 86_400 },
        ]))
    }

    /// Where `token` stands after one write more, and whether that write is allowed.
    pub(crate) fn take(&self, token: Uuid, now: DateTime<Utc>) -> (Standing, bool) {
        self.0.take(token, now)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_eleventh_try_waits_and_other_addresses_do_not() {
        let (limiter, now) = (FailureLimiter::default(), DateTime::<Utc>::UNIX_EPOCH);
        let one: IpAddr = "2001:db8::1".parse().expect("address");
        let neighbour: IpAddr = "2001:db8::2".parse().expect("address");
        let other: IpAddr = "2001:db8:0:1::1".parse().expect("address");
        let wait = |address, now| limiter.blocked(address, now).map(|standing| standing.reset_s);
        for _ in 0..WRONG_TOKENS.quota {
            assert_eq!(wait(one, now), None);
            limiter.count(one, now);
        }
        assert_eq!(wait(neighbour, now), Some(60));
        assert_eq!(wait(other, now), None);
        assert_eq!(wait(one, now + Duration::seconds(60)), None);
        assert_eq!(wait(one, now - Duration::hours(1)), None);
    }

    #[test]
    fn the_window_nearest_to_its_end_is_told_and_a_refusal_costs_nothing() {
        let (limiter, start, token) = (WriteLimiter::new(2, 3), DateTime::<Utc>::UNIX_EPOCH, Uuid::nil());
        let at = |seconds| start + Duration::seconds(seconds);
        let told = |seconds| {
            let (standing, allowed) = limiter.take(token, at(seconds));
            (standing.worst, standing.left, standing.reset_s, allowed)
        };
        assert_eq!(told(0), ("writes-per-minute", 1, 60, true));
        assert_eq!(told(10), ("writes-per-minute", 0, 50, true));
        assert_eq!(told(20), ("writes-per-minute", 0, 40, false));
        assert_eq!(told(60), ("writes-per-day", 0, 86_340, true), "the refused one was not counted");
        assert_eq!(told(61), ("writes-per-day", 0, 86_339, false));
        assert_eq!(told(86_400), ("writes-per-minute", 1, 60, true));
        let (other, allowed) = limiter.take(Uuid::from_u128(1), at(61));
        assert!(allowed && other.left == 1, "another token has its own count");
        let mut headers = HeaderMap::new();
        other.tell(&mut headers);
        assert_eq!(headers["ratelimit-policy"], "\"writes-per-minute\";q=2;w=60, \"writes-per-day\";q=3;w=86400");
        assert_eq!(headers["ratelimit"], "\"writes-per-minute\";r=1;t=60");
    }

    #[test]
    fn callers_that_came_once_are_forgotten_when_there_are_too_many() {
        let (counter, now) = (Counter::<u32>::new(vec![WRONG_TOKENS]), DateTime::<Utc>::UNIX_EPOCH);
        for caller in 0..(MOST_CALLERS as u32) * 2 {
            counter.take(caller, now);
        }
        assert!(counter.windows.lock().expect("not poisoned").len() <= MOST_CALLERS);
    }
}
