//! How often an address may show a wrong token.

use std::collections::HashMap;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Mutex, PoisonError};

use chrono::{DateTime, Duration, Utc};

/// Wrong tokens an address may show within [`WINDOW_S`].
const MOST_FAILURES: u32 = 10;
/// Length of the window, seconds.
const WINDOW_S: i64 = 60;
/// Addresses remembered at once; the oldest windows go first.
const MOST_ADDRESSES: usize = 10_000;

/// Counts wrong tokens per address, IPv6 by its /64.
#[derive(Debug, Default)]
pub struct FailureLimiter(Mutex<HashMap<IpAddr, (DateTime<Utc>, u32)>>);

impl FailureLimiter {
    /// Seconds until `address` may try again; `None` when it may now.
    pub fn blocked_for_s(&self, address: IpAddr, now: DateTime<Utc>) -> Option<u64> {
        let windows = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let (start, count) = windows.get(&prefix(address))?;
        let age = now.signed_duration_since(*start).num_seconds();
        // A clock set back opens a new window rather than blocking for ever.
        let open = (0..WINDOW_S).contains(&age);
        (open && *count >= MOST_FAILURES).then(|| u64::try_from(WINDOW_S - age).unwrap_or(1))
    }

    /// Notes a wrong token.
    pub fn count(&self, address: IpAddr, now: DateTime<Utc>) {
        let mut windows = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let current = |start: &DateTime<Utc>| (0..WINDOW_S).contains(&now.signed_duration_since(*start).num_seconds());
        if windows.len() >= MOST_ADDRESSES {
            windows.retain(|_, (start, _)| current(start));
            if windows.len() >= MOST_ADDRESSES {
                let cut = now - Duration::seconds(WINDOW_S / 2);
                windows.retain(|_, (start, _)| *start > cut);
            }
            if windows.len() >= MOST_ADDRESSES {
                windows.clear();
            }
        }
        let window = windows.entry(prefix(address)).or_insert((now, 0));
        if current(&window.0) {
            window.1 += 1;
        } else {
            *window = (now, 1);
        }
    }
}

fn prefix(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) => IpAddr::V6(Ipv6Addr::from(u128::from(v6) & !u128::from(u64::MAX))),
        v4 @ IpAddr::V4(_) => v4,
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
        for _ in 0..MOST_FAILURES {
            assert_eq!(limiter.blocked_for_s(one, now), None);
            limiter.count(one, now);
        }
        assert_eq!(limiter.blocked_for_s(neighbour, now), Some(60));
        assert_eq!(limiter.blocked_for_s(other, now), None);
        assert_eq!(limiter.blocked_for_s(one, now + Duration::seconds(60)), None);
        assert_eq!(limiter.blocked_for_s(one, now - Duration::hours(1)), None);
    }
}
