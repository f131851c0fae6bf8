//! The machine's pace.

use std::pin::Pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::{DateTime, Utc};
use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use uuid::Uuid;

use crate::clock::Clock;
use crate::ingest::client::Pace;

/// Time by a clock, real waiting, and dice that differ from process to process.
#[derive(Debug)]
pub struct ClockPace {
    clock: Arc<dyn Clock>,
    dice: Mutex<Pcg64>,
}

impl ClockPace {
    /// The pace of `clock`.
    #[must_use]
    pub fn new(clock: Arc<dyn Clock>) -> Self {
        let seed = Uuid::new_v4().as_u64_pair();
        Self { clock, dice: Mutex::new(Pcg64::seed_from_u64(seed.0 ^ seed.1)) }
    }
}

impl Pace for ClockPace {
    fn now(&self) -> DateTime<Utc> {
        self.clock.now()
    }

    fn wait(&self, how_long: Duration) -> Pin<Box<dyn Future<Output = ()> + Send + '_>> {
        Box::pin(tokio::time::sleep(how_long))
    }

    fn chance(&self) -> f64 {
        self.dice.lock().unwrap_or_else(PoisonError::into_inner).random()
    }
}
