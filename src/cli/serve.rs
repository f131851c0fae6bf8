//! `serve`: pages, calendars and API, with a worker in the same process.

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use chrono::NaiveDate;
use tokio::net::TcpListener;
use tokio::sync::watch;

use super::args::ServeArgs;
use super::failure::{Failure, Mend as _};
use super::{open, output};
use crate::app::hindcast::ComputedHere;
use crate::app::sync::Sources;
use crate::app::{Db, Service, jobs, snapshot};
use crate::clock::SystemClock;
use crate::config::{ServerSettings, Settings};
use crate::domain::job::Kinds;
use crate::http::{self, AppState};
use crate::jobs::{Notify, Runner, publish_daily, sync_regularly, tidy_daily};

/// Serves until told to stop.
pub(super) async fn run(args: &ServeArgs, settings: &Settings) -> Result<(), Failure> {
    let mut settings = settings.clone();
    if let Some(listen) = args.listen {
        settings.server.listen = listen;
    }
    settings.check().map_err(Failure::usage)?;
    let listener = bind(settings.server.listen).await?;
    let sources = super::sync::sources(&settings.sources)?;
    let db = open(&settings).await?;
    let service = service(&db, None).await?;
    let (stop, stopped) = watch::channel(false);
    let daily = tokio::spawn(publish_daily(service.clone(), Arc::new(SystemClock), stopped.clone()));
    let tidying = tokio::spawn(tidy_daily(service.clone(), stopped.clone()));
    let hours = settings.sources.every_hours;
    let seed = uuid::Uuid::new_v4().as_u64_pair().0;
    let every = Duration::from_hours(hours.into());
    let regular = (hours > 0).then(|| tokio::spawn(sync_regularly(service.clone(), every, seed, stopped)));
    output::result(&format!("Serving {} on http://{}", settings.database.url, listener.local_addr()?))?;
    let served = serve(&service, listener, &settings.server, None, Some(sources)).await;
    let _ = stop.send(true);
    daily.abort();
    tidying.abort();
    if let Some(regular) = regular {
        regular.abort();
    }
    db.close().await;
    served
}

/// Listens on `address`.
pub(super) async fn bind(address: SocketAddr) -> Result<TcpListener, Failure> {
    TcpListener::bind(address)
        .await
        .doing(format!("cannot listen on {address}"))
        .mend("Choose a free address with --listen, for example --listen 127.0.0.1:0 for any free port.")
}

/// A service on `db` with everything stored loaded; `today` is the date shown when it is not the clock's.
pub(super) async fn service(db: &Db, today: Option<NaiveDate>) -> Result<Service, Failure> {
    let service = Service::builder(db.clone(), Arc::new(SystemClock))
        .shown_today(today)
        .hindcast(Arc::new(ComputedHere::default()))
        .build();
    service.refresh().await?;
    Ok(service)
}

/// Serves `service`, works on its jobs and follows other processes' publications, until the process is
/// told to stop. A second signal ends it at once.
pub(super) async fn serve(
    service: &Service,
    listener: TcpListener,
    server: &ServerSettings,
    today: Option<NaiveDate>,
    sources: Option<Sources>,
) -> Result<(), Failure> {
    let public_url = match server.public_url.as_str() {
        "" => format!("http://{}", listener.local_addr()?),
        url => url.to_owned(),
    };
    let edge = http::Settings {
        public_url,
        trusted_proxies: server.trusted_proxies.clone(),
        write_origins: server.write_origins.clone(),
        embed_hosts: server.embed_hosts.clone(),
        handler_timeout_s: server.request_timeout_s,
        writes_per_minute: server.writes_per_minute,
        writes_per_day: server.writes_per_day,
    };
    let (stop, stopped) = watch::channel(false);
    // Publications and imports take seconds and must not wait behind a fit or a scoring, which take minutes; fetching
    // may have to pause for a service, and others must not wait for it.
    let workers =
        [Kinds::AllBut(jobs::SYNC), Kinds::Only(jobs::PUBLISH), Kinds::Only(jobs::SYNC), Kinds::Only(jobs::IMPORT)];
    let workers = workers.map(|kinds| {
        let (db, notify, stopped) = (service.db().clone(), refreshing(service.clone()), stopped.clone());
        let runner = Runner { db, clock: Arc::new(SystemClock), today, sources: sources.clone(), kinds, notify };
        tokio::spawn(runner.keep_running(stopped))
    });
    let follower = tokio::spawn(snapshot::keep_fresh(service.clone()));
    let served = http::serve(listener, AppState::new(service.clone(), edge), told_to_stop()).await;
    tokio::spawn(async {
        told_to_stop().await;
        output::note("Stopped at once.");
        std::process::exit(1);
    });
    let _ = stop.send(true);
    // A fit in hand is not waited for: its job returns to the table when its lease ends.
    workers.iter().for_each(tokio::task::JoinHandle::abort);
    follower.abort();
    served.map_err(Failure::from)
}

fn refreshing(service: Service) -> Notify {
    Arc::new(move |_| {
        let service = service.clone();
        tokio::spawn(async move {
            if let Err(error) = service.refresh().await {
                tracing::warn!(%error, "the new forecasts are not served yet");
            }
        });
    })
}

/// Completes at the first interrupt or termination signal.
async fn told_to_stop() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        match signal(SignalKind::terminate()) {
            Ok(mut terminated) => {
                tokio::select! {
                    _ = tokio::signal::ctrl_c() => {}
                    _ = terminated.recv() => {}
                }
            }
            Err(error) => {
                tracing::warn!(%error, "termination signals cannot be heard");
                let _ = tokio::signal::ctrl_c().await;
            }
        }
    }
    #[cfg(not(unix))]
    let _ = tokio::signal::ctrl_c().await;
}
