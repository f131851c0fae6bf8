//! Where long computations run: forecasts on threads of their own, so that what a report says is told at once; fits and
//! scores on others, which give way to them and to those that serve.

use std::sync::OnceLock;

use rayon::{ThreadPool, ThreadPoolBuilder};
use thiserror::Error;

/// How much fits and scores give way, on the scale of `nice`: a ninth of the time of others where both want it all.
const GIVES_WAY: i32 = 10;

/// The work ended without a result: the process is shutting down, or the work panicked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("the computation was interrupted")]
pub(super) struct Interrupted;

/// Runs a forecast.
///
/// # Errors
/// [`Interrupted`].
pub(super) async fn at_once<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, Interrupted> {
    static POOL: OnceLock<Option<ThreadPool>> = OnceLock::new();
    run(&POOL, || ThreadPoolBuilder::new().thread_name(|k| format!("forecast-{k}")), work).await
}

/// Runs a fit or scores, which may take minutes.
///
/// # Errors
/// [`Interrupted`].
pub(super) async fn in_time<T: Send + 'static>(work: impl FnOnce() -> T + Send + 'static) -> Result<T, Interrupted> {
    static POOL: OnceLock<Option<ThreadPool>> = OnceLock::new();
    run(&POOL, || ThreadPoolBuilder::new().thread_name(|k| format!("fit-{k}")).start_handler(|_| give_way()), work)
        .await
}

async fn run<T: Send + 'static>(
    pool: &'static OnceLock<Option<ThreadPool>>,
    builder: impl FnOnce() -> ThreadPoolBuilder + Send + 'static,
    work: impl FnOnce() -> T + Send + 'static,
) -> Result<T, Interrupted> {
    tokio::task::spawn_blocking(move || match pool.get_or_init(|| builder().build().ok()) {
        Some(pool) => pool.install(work),
        // Without threads of its own the work is the same, and slower.
        None => work(),
    })
    .await
    .map_err(|_| Interrupted)
}

/// The calling thread takes less of the processors where others want them. Linux has priorities by thread;
/// elsewhere this would slow the whole program.
#[cfg(target_os = "linux")]
fn give_way() {
    if let Err(error) = rustix::process::setpriority_process(None, GIVES_WAY) {
        tracing::debug!(%error, "fits run at the priority of all else");
    }
}

#[cfg(not(target_os = "linux"))]
fn give_way() {}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn long_work_gives_way_and_forecasts_do_not() {
        let name = || std::thread::current().name().map(str::to_owned);
        assert!(at_once(name).await.unwrap().unwrap().starts_with("forecast-"));
        assert!(in_time(name).await.unwrap().unwrap().starts_with("fit-"));
        #[cfg(target_os = "linux")]
        {
            let priority = || rustix::process::getpriority_process(None).unwrap();
            let before = priority();
            assert_eq!(at_once(priority).await, Ok(before));
            assert_eq!(in_time(priority).await, Ok(GIVES_WAY.max(before)));
        }
    }

    #[tokio::test]
    async fn work_that_panics_is_told() {
        assert_eq!(in_time(|| -> u8 { panic!("on purpose") }).await, Err(Interrupted));
    }
}
