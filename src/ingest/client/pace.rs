//! Time and chance, handed in.

use std::fmt;
use std::pin::Pin;
use std::time::Duration;

use chrono::{DateTime, Utc};

use super::settings::Limits;

/// Tells the time, waits, and rolls dice. Handed in, so that tests need not wait.
pub trait Pace: Send + Sync + fmt::Debug {
    /// The present instant.
    fn now(&self) -> DateTime<Utc>;
    /// Waits.
    fn wait(&self, how_long: Duration) -> Pin<Box<dyn Future<Output = ()> + Send + '_>>;
    /// A number from 0 to below 1.
    fn chance(&self) -> f64;
}

/// The pause after try number `attempt` (from 1): doubled each time, between half and all of it, so that
/// many programs do not come back at once.
pub(super) fn pause(limits: &Limits, attempt: u32, chance: f64) -> Duration {
    let full = limits.first_pause.saturating_mul(1 << attempt.saturating_sub(1).min(16));
    full.min(limits.longest_pause).mul_f64(0.5 + 0.5 * chance.clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_double_up_to_the_longest_and_scatter() {
        let limits = Limits::default();
        let seconds = |attempt, chance| pause(&limits, attempt, chance).as_secs_f64();
        assert_eq!([seconds(1, 0.0), seconds(2, 0.0), seconds(3, 1.0)], [0.5, 1.0, 4.0]);
        assert_eq!([seconds(40, 1.0), seconds(40, 0.0)], [120.0, 60.0]);
    }
}
