//! The listener: our own accept loop, because a client that sends half a request head must neither
//! hold a connection for ever nor keep the service from stopping.

use std::future::Future;
use std::io;
use std::time::Duration;

use axum::extract::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use tokio::net::{TcpListener, TcpStream};
use tower::ServiceExt;

use super::extract::Peer;
use super::state::AppState;

/// Time to send a request head.
const HEADER_TIMEOUT: Duration = Duration::from_secs(10);
/// Time open requests get to finish once asked to stop.
const SHUTDOWN_DEADLINE: Duration = Duration::from_secs(10);
/// Largest request head, bytes.
const HEADER_BYTES: usize = 16 * 1024;

/// Serves `state` on `listener` until `shutdown` completes, then lets open requests finish for at
/// most ten seconds.
///
/// # Errors
/// When the listener itself fails for good.
pub async fn serve(listener: TcpListener, state: AppState, shutdown: impl Future<Output = ()>) -> io::Result<()> {
    let router = super::router(state);
    let graceful = GracefulShutdown::new();
    tokio::pin!(shutdown);
    loop {
        tokio::select! {
            () = &mut shutdown => break,
            accepted = listener.accept() => match accepted {
                Ok((stream, peer)) => connection(stream, Peer(peer.ip()), router.clone(), &graceful),
                // Out of descriptors or a peer that left at once: the loop must outlive both.
                Err(error) => {
                    tracing::warn!(%error, "a connection was not accepted");
                    tokio::time::sleep(Duration::from_millis(50)).await;
                }
            },
        }
    }
    drop(listener);
    if tokio::time::timeout(SHUTDOWN_DEADLINE, graceful.shutdown()).await.is_err() {
        tracing::warn!("open connections were cut at the shutdown deadline");
    }
    Ok(())
}

fn connection(stream: TcpStream, peer: Peer, router: axum::Router, graceful: &GracefulShutdown) {
    if let Err(error) = stream.set_nodelay(true) {
        tracing::debug!(%error, "small answers may be delayed");
    }
    let service = router.map_request(move |mut request: Request<Incoming>| {
        request.extensions_mut().insert(peer);
        request.map(axum::body::Body::new)
    });
    let serving = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEADER_TIMEOUT)
        .max_buf_size(HEADER_BYTES)
        .serve_connection(TokioIo::new(stream), TowerToHyperService::new(service));
    let watched = graceful.watch(serving);
    tokio::spawn(async move {
        if let Err(error) = watched.await {
            tracing::debug!(%error, "a connection ended early");
        }
    });
}
