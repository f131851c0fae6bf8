//! Tidies the database once a day.

use std::time::Duration;

use tokio::sync::watch;

use crate::app::Service;
use crate::app::tidy::{Tidied, tidy};

/// Pause before the first time after a start: there is more urgent work then.
const FIRST: Duration = Duration::from_mins(10);
/// How often.
const EVERY: Duration = Duration::from_hours(24);

/// Tidies until `stop` turns true. What fails is tried again the next day.
pub async fn tidy_daily(service: Service, mut stop: watch::Receiver<bool>) {
    let mut pause = FIRST;
    while !*stop.borrow() {
        tokio::select! {
            _ = stop.changed() => continue,
            () = tokio::time::sleep(pause) => {}
        }
        match tidy(service.db(), service.now()).await {
            Ok(tidied) if tidied == Tidied::default() => {}
            Ok(Tidied { fits, jobs, answers, entries }) => {
                tracing::info!(fits, jobs, answers, entries, "what nobody can ask for any more is dropped");
            }
            Err(error) => tracing::error!(error = &error as &dyn std::error::Error, "the database was not tidied"),
        }
        pause = EVERY;
    }
}
