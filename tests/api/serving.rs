//! The accept loop: half a request head must neither stay for ever nor keep the service from stopping.

use std::time::{Duration, Instant};

use subimago::http::{AppState, Settings, serve};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::oneshot;

use crate::support::{TestApp, on_both};

async fn start(app: &TestApp) -> (std::net::SocketAddr, oneshot::Sender<()>, tokio::task::JoinHandle<()>) {
    let listener = TcpListener::bind("127.0.0.1:0").await.expect("binds");
    let address = listener.local_addr().expect("an address");
    let (stop, stopped) = oneshot::channel::<()>();
    let state = AppState::new(app.service.clone(), Settings::default());
    let running = tokio::spawn(async move {
        let shutdown = async { drop(stopped.await) };
        serve(listener, state, shutdown).await.expect("serves");
    });
    (address, stop, running)
}

async fn ask(address: std::net::SocketAddr, head: &str) -> String {
    let mut stream = TcpStream::connect(address).await.expect("connects");
    stream.write_all(head.as_bytes()).await.expect("writes");
    let mut answer = Vec::new();
    tokio::time::timeout(Duration::from_secs(20), stream.read_to_end(&mut answer)).await.expect("ends").expect("reads");
    String::from_utf8_lossy(&answer).into_owned()
}

on_both! {
    async fn answers_and_stops_while_a_client_holds_half_a_head(app) {
        let (address, stop, running) = start(&app).await;
        let answer = ask(address, "GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n").await;
        assert!(answer.starts_with("HTTP/1.1 200 OK"), "{answer}");
        let mut slow = TcpStream::connect(address).await.expect("connects");
        slow.write_all(b"GET / HTTP/1.1\r\nHost: x\r\nX-Never").await.expect("writes");
        // Give the server time to read the half head.
        tokio::time::sleep(Duration::from_millis(100)).await;
        let asked = Instant::now();
        stop.send(()).expect("still running");
        running.await.expect("stops");
        assert!(asked.elapsed() < Duration::from_secs(11), "{:?}", asked.elapsed());
        assert!(TcpStream::connect(address).await.is_err(), "the listener is closed");
    }
}

on_both! {
    async fn cuts_a_client_that_never_finishes_its_head(app) {
        let (address, stop, running) = start(&app).await;
        let began = Instant::now();
        let answer = ask(address, "GET / HTTP/1.1\r\nHost: x\r\nX-Never").await;
        assert!(began.elapsed() < Duration::from_secs(15), "{:?}", began.elapsed());
        assert!(answer.is_empty() || answer.starts_with("HTTP/1.1 408"), "{answer}");
        stop.send(()).expect("still running");
        running.await.expect("stops");
    }
}

/// Serves the water of these tests for looking at: `cargo test --test api -- --ignored look_at`.
#[tokio::test]
#[ignore = "runs until killed"]
async fn look_at_the_pages() {
    fn body(app: TestApp) -> crate::support::Boxed {
        Box::pin(async move {
            let listener = TcpListener::bind("127.0.0.1:8099").await.expect("binds");
            let state = AppState::new(app.service, Settings::default());
            serve(listener, state, std::future::pending()).await.expect("serves");
        })
    }
    crate::support::on_sqlite(body).await;
}
