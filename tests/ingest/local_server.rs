//! A server on this machine that answers as a test tells it, and a pace that does not wait.

use std::collections::VecDeque;
use std::net::{IpAddr, SocketAddr};
use std::pin::Pin;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};
use subimago::ingest::client::{ApiKey, Client, Limits, Looking, Lookup, Pace, Policy, TestServer, UserAgent};
use tokio::io::{AsyncReadExt as _, AsyncWriteExt as _};
use tokio::net::{TcpListener, TcpStream};

use crate::support::at;

/// A request as it came.
#[derive(Debug, Clone)]
pub(crate) struct Seen {
    pub(crate) path: String,
    pub(crate) head: String,
}

impl Seen {
    /// The value of a header.
    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        self.head.lines().find_map(|line| {
            let (key, value) = line.split_once(':')?;
            key.eq_ignore_ascii_case(name).then(|| value.trim())
        })
    }
}

/// What is sent back.
#[derive(Debug, Clone)]
pub(crate) enum Reply {
    /// Status, headers and body.
    Full(u16, Vec<(&'static str, String)>, Vec<u8>),
    /// A good head and half a body, then the end.
    CutOff,
    /// A good head and a body without end.
    Endless,
    /// Nothing.
    Silence,
}

impl Reply {
    pub(crate) fn json(body: impl ToString) -> Self {
        Self::Full(200, vec![("content-type", "application/json".to_owned())], body.to_string().into_bytes())
    }

    pub(crate) fn status(status: u16, headers: &[(&'static str, &str)]) -> Self {
        Self::Full(status, headers.iter().map(|(name, value)| (*name, (*value).to_owned())).collect(), b"{}".to_vec())
    }
}

/// Tells the reply to a request; the number counts requests from 0.
pub(crate) type Script = Arc<dyn Fn(&Seen, usize) -> Reply + Send + Sync>;

/// The server. It ends with the test.
#[derive(Clone)]
pub(crate) struct LocalServer {
    pub(crate) address: SocketAddr,
    seen: Arc<Mutex<Vec<Seen>>>,
}

impl LocalServer {
    pub(crate) async fn start(script: impl Fn(&Seen, usize) -> Reply + Send + Sync + 'static) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let server = Self { address: listener.local_addr().unwrap(), seen: Arc::default() };
        let (seen, script): (_, Script) = (Arc::clone(&server.seen), Arc::new(script));
        tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                tokio::spawn(serve(stream, Arc::clone(&seen), Arc::clone(&script)));
            }
        });
        server
    }

    pub(crate) fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.address)
    }

    pub(crate) fn seen(&self) -> Vec<Seen> {
        self.seen.lock().unwrap().clone()
    }

    pub(crate) fn paths(&self) -> Vec<String> {
        self.seen().into_iter().map(|seen| seen.path).collect()
    }

    pub(crate) fn policy(&self, names: &[&str]) -> Policy {
        let names = names.iter().map(|name| (*name).to_owned()).collect();
        Policy::default().with_test_server(TestServer { address: self.address, names })
    }
}

async fn serve(mut stream: TcpStream, seen: Arc<Mutex<Vec<Seen>>>, script: Script) {
    let mut head = Vec::new();
    let mut byte = [0_u8; 1];
    while !head.ends_with(b"\r\n\r\n") {
        match stream.read(&mut byte).await {
            Ok(1) => head.push(byte[0]),
            _ => return,
        }
    }
    let head = String::from_utf8(head).unwrap();
    let path = head.split(' ').nth(1).unwrap().to_owned();
    let request = Seen { path, head };
    let number = {
        let mut seen = seen.lock().unwrap();
        seen.push(request.clone());
        seen.len() - 1
    };
    match script(&request, number) {
        Reply::Full(status, headers, body) => {
            let mut text = format!("HTTP/1.1 {status} X\r\ncontent-length: {}\r\nconnection: close\r\n", body.len());
            for (name, value) in headers {
                text.push_str(&format!("{name}: {value}\r\n"));
            }
            let _ = stream.write_all(format!("{text}\r\n").as_bytes()).await;
            let _ = stream.write_all(&body).await;
        }
        Reply::CutOff => {
            let _ = stream.write_all(b"HTTP/1.1 200 OK\r\ncontent-length: 1000\r\n\r\n{\"data\":[").await;
        }
        Reply::Endless => {
            let _ = stream.write_all(b"HTTP/1.1 200 OK\r\ncontent-type: application/json\r\n\r\n").await;
            while stream.write_all(&[b' '; 4096]).await.is_ok() {}
        }
        Reply::Silence => tokio::time::sleep(Duration::from_secs(60)).await,
    }
    let _ = stream.shutdown().await;
}

/// A clock that only waiting moves.
#[derive(Debug)]
pub(crate) struct TestPace {
    now: Mutex<DateTime<Utc>>,
    waits: Mutex<Vec<Duration>>,
}

impl TestPace {
    pub(crate) fn new(now: &str) -> Arc<Self> {
        Arc::new(Self { now: Mutex::new(at(now)), waits: Mutex::default() })
    }

    pub(crate) fn waited_s(&self) -> Vec<f64> {
        self.waits.lock().unwrap().iter().map(Duration::as_secs_f64).collect()
    }

    pub(crate) fn pass(&self, time: TimeDelta) {
        *self.now.lock().unwrap() += time;
    }
}

impl Pace for TestPace {
    fn now(&self) -> DateTime<Utc> {
        *self.now.lock().unwrap()
    }

    fn wait(&self, how_long: Duration) -> Pin<Box<dyn Future<Output = ()> + Send + '_>> {
        self.waits.lock().unwrap().push(how_long);
        self.pass(TimeDelta::from_std(how_long).unwrap());
        Box::pin(async {})
    }

    fn chance(&self) -> f64 {
        0.5
    }
}

/// Answers look-ups one after the other; the last one stays.
#[derive(Debug)]
pub(crate) struct Answers(Mutex<VecDeque<Vec<IpAddr>>>);

impl Answers {
    pub(crate) fn of(answers: &[&[&str]]) -> Arc<Self> {
        let read = |addresses: &&[&str]| addresses.iter().map(|text| text.parse().unwrap()).collect();
        Arc::new(Self(Mutex::new(answers.iter().map(read).collect())))
    }
}

impl Lookup for Answers {
    fn lookup(&self, _: String) -> Looking {
        let mut left = self.0.lock().unwrap();
        let next = if left.len() > 1 { left.pop_front().unwrap() } else { left[0].clone() };
        Box::pin(async move { Ok(next) })
    }
}

/// Limits that do not keep a test waiting.
pub(crate) fn limits() -> Limits {
    Limits { total: Duration::from_secs(5), body_bytes: 64 * 1024, ..Limits::default() }
}

/// A client that knows nothing but loopback by look-up.
pub(crate) fn client(policy: Policy, pace: &Arc<TestPace>) -> Client {
    client_with(policy, pace, "keeper@club.example", Vec::new(), limits(), Answers::of(&[&["127.0.0.1"]]))
}

pub(crate) fn client_with(
    policy: Policy,
    pace: &Arc<TestPace>,
    contact: &str,
    keys: Vec<ApiKey>,
    limits: Limits,
    lookup: Arc<dyn Lookup>,
) -> Client {
    let agent = UserAgent { contact: contact.to_owned() };
    Client::new(policy, agent, keys, limits, Arc::clone(pace) as Arc<dyn Pace>, lookup).unwrap()
}
