//! Fetching against a server on this machine: how requests are paced, what is refused, what is not asked twice.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

use chrono::TimeDelta;
use serde_json::json;
use subimago::app::sync::SourceOptions;
use subimago::domain::Secret;
use subimago::ingest::client::{ApiKey, Client, FetchFault, Fetched, Fresh, Limits, Policy, Validators};
use subimago::ingest::temperature::{PageFault, hubeau};

use crate::answers::asked;
use crate::local_server::{Answers, LocalServer, Reply, TestPace, client, client_with, limits};

pub(crate) const NOW: &str = "2026-06-15T12:00:00Z";

pub(crate) async fn get(client: &Client, url: &str) -> Result<Fetched, FetchFault> {
    client.get(url, &Validators::default()).await
}

pub(crate) async fn body(client: &Client, url: &str) -> Fresh {
    match get(client, url).await.unwrap() {
        Fetched::New(fresh) => fresh,
        Fetched::Unchanged { .. } => panic!("a new answer"),
    }
}

#[tokio::test]
async fn a_key_goes_to_its_own_host_alone() {
    let server = LocalServer::start(|seen, _| match seen.path.as_str() {
        "/moved" => {
            let port = seen.header("host").unwrap().split_once(':').unwrap().1.to_owned();
            Reply::status(307, &[("location", &format!("http://other.test:{port}/end"))])
        }
        _ => Reply::json("{}"),
    })
    .await;
    // Written in capitals among the settings it is the same host.
    let key = ApiKey::of("https://OWN.test:443/ogcapi/v0", "X-Api-Key", Secret::new("s3cret")).unwrap();
    assert!(!format!("{key:?}").contains("s3cret"));
    assert!(ApiKey::of("https://own.test", "X-Api-Key", Secret::default()).is_none());
    let pace = TestPace::new(NOW);
    let policy = server.policy(&["own.test", "other.test"]);
    let client = client_with(policy, &pace, "x", vec![key], limits(), Answers::of(&[&["127.0.0.1"]]));
    assert!(!format!("{client:?}").contains("s3cret"), "{client:?}");
    let port = server.address.port();
    body(&client, &format!("http://own.test:{port}/here")).await;
    body(&client, &format!("http://other.test:{port}/there")).await;
    body(&client, &format!("http://own.test:{port}/moved")).await;
    let keys: Vec<(String, bool)> =
        server.seen().iter().map(|seen| (seen.path.clone(), seen.header("x-api-key") == Some("s3cret"))).collect();
    let expected = [("/here", true), ("/there", false), ("/moved", true), ("/end", false)];
    assert_eq!(keys, expected.map(|(path, sent)| (path.to_owned(), sent)));
    assert!(server.seen().iter().all(|seen| seen.header("cookie").is_none()));
}

#[test]
fn the_options_do_not_show_the_key() {
    let options = SourceOptions {
        contact: String::new(),
        usgs_url: "https://water.example/v0".to_owned(),
        usgs_key: Secret::new("s3cret"),
        hubeau_url: String::new(),
        smhi_url: String::new(),
        nws_url: String::new(),
        met_norway_url: String::new(),
        hosts: Vec::new(),
        history_years: 1,
        overlap_days: 1,
    };
    assert!(format!("{options:?}").contains("usgs_key: ***"), "{options:?}");
    let broken = ApiKey::of("https://own.test", "X-Api-Key", Secret::new("s3\ncret")).unwrap();
    let (policy, pace) = (Policy::default(), TestPace::new(NOW));
    let agent = subimago::ingest::client::UserAgent { contact: String::new() };
    let fault = Client::new(policy, agent, vec![broken], limits(), pace, Answers::of(&[&["127.0.0.1"]])).unwrap_err();
    assert!(fault.to_string().contains("own.test") && !fault.to_string().contains("cret"), "{fault}");
}

#[tokio::test]
async fn it_says_who_it_is_and_asks_nobody_who_demands_more() {
    let server = LocalServer::start(|_, _| Reply::json("{}")).await;
    let pace = TestPace::new(NOW);
    body(&client(server.policy(&[]), &pace), &server.url("/")).await;
    let named = concat!("Subimago/", env!("CARGO_PKG_VERSION"));
    assert_eq!(server.seen()[0].header("user-agent").unwrap(), format!("{named} (keeper@club.example)"));
    for (host, contact) in [("api.met.no", ""), ("api.weather.gov", "")] {
        let policy = Policy::of([host.to_owned()]);
        let client = client_with(policy, &pace, contact, Vec::new(), limits(), Answers::of(&[&["127.0.0.1"]]));
        let fault = get(&client, &format!("https://{host}/")).await.unwrap_err();
        assert!(fault.to_string().contains("sources.contact"), "{fault}");
    }
    let without = client_with(server.policy(&[]), &pace, "", Vec::new(), limits(), Answers::of(&[&["127.0.0.1"]]));
    body(&without, &server.url("/")).await;
    assert_eq!(server.seen()[1].header("user-agent"), Some(named));
}

#[tokio::test]
async fn pages_are_followed_to_the_end_whatever_the_status() {
    let row = |hour: usize| crate::answers::hubeau_row(&format!("{hour:02}:00:00"), &json!(10 + hour));
    let server = LocalServer::start(move |seen, number| {
        let host = seen.header("host").unwrap();
        let next = (number < 2).then(|| format!("http://{host}/chronique?page={}", number + 2));
        let body = json!({ "count": 6, "next": next, "data": [row(2 * number), row(2 * number + 1)] });
        Reply::Full(206, Vec::new(), body.to_string().into_bytes())
    })
    .await;
    let client = client(server.policy(&[]), &TestPace::new(NOW));
    let (mut url, mut values) = (Some(server.url("/chronique?page=1")), Vec::new());
    while let Some(at) = url {
        let fresh = body(&client, &at).await;
        let page =
            hubeau::page(&fresh.body, &subimago::ingest::temperature::Asked { url: &fresh.url, ..asked() }).unwrap();
        values.extend(page.readings.iter().map(|row| row.value_c));
        url = page.next;
    }
    assert_eq!(values, [10.0, 11.0, 12.0, 13.0, 14.0, 15.0]);
    assert_eq!(server.paths(), ["/chronique?page=1", "/chronique?page=2", "/chronique?page=3"]);
}

#[tokio::test]
async fn a_service_that_asks_for_a_pause_gets_it() {
    let server = LocalServer::start(|seen, number| match (seen.path.as_str(), number) {
        ("/short", 0) => Reply::status(429, &[("retry-after", "30")]),
        ("/dated", 2) => Reply::status(503, &[("retry-after", "Mon, 15 Jun 2026 12:01:10 GMT")]),
        ("/long", _) => Reply::status(429, &[("retry-after", "4000")]),
        _ => Reply::json("{}"),
    })
    .await;
    let pace = TestPace::new(NOW);
    let client = client(server.policy(&[]), &pace);
    body(&client, &server.url("/short")).await;
    assert_eq!(pace.waited_s(), [30.0]);
    body(&client, &server.url("/dated")).await;
    assert_eq!(pace.waited_s(), [30.0, 40.0], "at 12:00:30 it was asked to wait until 12:01:10");
    let fault = get(&client, &server.url("/long")).await.unwrap_err();
    assert!(matches!(fault, FetchFault::Later { .. }), "{fault}");
    let asked = server.seen().len();
    assert!(get(&client, &server.url("/")).await.is_err(), "it is left alone");
    assert_eq!((server.seen().len(), pace.waited_s().len()), (asked, 2));
    pace.pass(TimeDelta::seconds(4001));
    body(&client, &server.url("/")).await;
}

#[tokio::test]
async fn a_used_up_rate_ends_the_asking() {
    let server = LocalServer::start(|_, number| {
        Reply::status(
            200,
            &[("x-ratelimit-limit", "50"), ("x-ratelimit-remaining", if number == 0 { "1" } else { "0" })],
        )
    })
    .await;
    let pace = TestPace::new(NOW);
    let client = client(server.policy(&[]), &pace);
    body(&client, &server.url("/1")).await;
    body(&client, &server.url("/2")).await;
    let fault = get(&client, &server.url("/3")).await.unwrap_err();
    assert!(fault.to_string().contains("2026-06-15 13:00 UTC"), "{fault}");
    assert_eq!(server.paths(), ["/1", "/2"]);
}

#[tokio::test]
async fn failures_that_may_pass_are_tried_again_with_growing_pauses() {
    let tries = Arc::new(AtomicUsize::new(0));
    let count = Arc::clone(&tries);
    let server = LocalServer::start(move |seen, _| match seen.path.as_str() {
        "/down" => Reply::status(502, &[]),
        "/gone" => Reply::status(404, &[]),
        "/wrong" => {
            Reply::Full(400, Vec::new(), b"{\"code\":\"BadRequest\",\"description\":\"no such station\"}".to_vec())
        }
        "/cut" if count.fetch_add(1, Ordering::SeqCst) == 0 => Reply::CutOff,
        _ => Reply::json("{}"),
    })
    .await;
    let pace = TestPace::new(NOW);
    let client = client(server.policy(&[]), &pace);
    let fault = get(&client, &server.url("/down")).await.unwrap_err();
    assert!(matches!(&fault, FetchFault::NoAnswer { attempts: 4, .. }), "{fault}");
    assert_eq!(pace.waited_s(), [0.75, 1.5, 3.0], "doubled, at the middle of the dice");
    assert_eq!(body(&client, &server.url("/cut")).await.body, b"{}", "broken off in the middle, then whole");
    assert_eq!((tries.load(Ordering::SeqCst), pace.waited_s().len()), (2, 4));
    let fault = get(&client, &server.url("/wrong")).await.unwrap_err();
    assert_eq!(fault.to_string(), "127.0.0.1 answered 400: no such station");
    assert!(get(&client, &server.url("/gone")).await.is_err());
    assert_eq!(pace.waited_s().len(), 4, "what is wrong stays wrong");
}

#[tokio::test]
async fn nobody_there_is_told_plainly() {
    let server = LocalServer::start(|_, _| Reply::Silence).await;
    let pace = TestPace::new(NOW);
    let quick = Limits { total: Duration::from_millis(150), tries: 2, ..limits() };
    let client = client_with(server.policy(&[]), &pace, "x", Vec::new(), quick, Answers::of(&[&["127.0.0.1"]]));
    let fault = get(&client, &server.url("/")).await.unwrap_err();
    assert!(matches!(&fault, FetchFault::NoAnswer { attempts: 2, .. }), "{fault}");
    assert_eq!(server.seen().len(), 2);
    let fault = get(&client, &server.url("/other")).await.unwrap_err();
    assert!(matches!(&fault, FetchFault::Later { .. }), "{fault}");
    assert!(fault.to_string().contains("is left alone until 2026-06-15 13:00 UTC"), "{fault}");
    assert_eq!(server.seen().len(), 2, "the next gauge does not wait for it");
    pace.pass(TimeDelta::hours(1));
    assert!(matches!(get(&client, &server.url("/")).await, Err(FetchFault::NoAnswer { .. })));
    assert_eq!(server.seen().len(), 4, "an hour later it is asked again");
}

#[tokio::test]
async fn bodies_are_cut_at_the_limit() {
    let server = LocalServer::start(|seen, _| match seen.path.as_str() {
        "/endless" => Reply::Endless,
        "/zeros" => {
            let bytes = include_bytes!("ten_million_zeros.gz").to_vec();
            Reply::Full(200, vec![("content-encoding", "gzip".to_owned())], bytes)
        }
        "/exact" => Reply::json(" ".repeat(64 * 1024)),
        _ => Reply::json(" ".repeat(64 * 1024 + 1)),
    })
    .await;
    let client = client(server.policy(&[]), &TestPace::new(NOW));
    assert_eq!(body(&client, &server.url("/exact")).await.body.len(), 64 * 1024);
    for path in ["/endless", "/zeros", "/one-more"] {
        let fault = get(&client, &server.url(path)).await.unwrap_err();
        assert!(matches!(fault, FetchFault::TooLarge { limit_bytes: 65_536, .. }), "{path}: {fault}");
    }
}

#[tokio::test]
async fn what_a_type_claims_does_not_matter() {
    let good = json!({ "count": 0, "next": null, "data": [] }).to_string();
    let server = LocalServer::start(move |seen, _| match seen.path.as_str() {
        "/page" => Reply::json("<html>busy</html>"),
        "/garbage" => Reply::json("\u{1}\u{2}not json"),
        _ => Reply::Full(200, vec![("content-type", "text/html".to_owned())], good.clone().into_bytes()),
    })
    .await;
    let client = client(server.policy(&[]), &TestPace::new(NOW));
    let read = async |path: &str| hubeau::page(&body(&client, &server.url(path)).await.body, &asked());
    assert_eq!(read("/page").await.unwrap_err(), PageFault::WebPage);
    assert!(matches!(read("/garbage").await.unwrap_err(), PageFault::NotJson(_)));
    assert!(read("/mistyped").await.is_ok());
}

#[tokio::test]
async fn what_is_unchanged_is_not_sent_again() {
    let server = LocalServer::start(|seen, _| {
        let known = seen.header("if-none-match") == Some("\"v1\"")
            && seen.header("if-modified-since") == Some("Mon, 20 Jul 2020 11:44:31 GMT");
        let status = if known { 304 } else { 200 };
        let until = "Mon, 15 Jun 2026 12:30:00 GMT";
        Reply::status(
            status,
            &[("etag", "\"v1\""), ("last-modified", "Mon, 20 Jul 2020 11:44:31 GMT"), ("expires", until)],
        )
    })
    .await;
    let client = client(server.policy(&[]), &TestPace::new(NOW));
    let fresh = body(&client, &server.url("/")).await;
    assert_eq!(fresh.validators.etag.as_deref(), Some("\"v1\""));
    assert_eq!(fresh.fresh_until.map(|until| until.to_rfc3339()).as_deref(), Some("2026-06-15T12:30:00+00:00"));
    let again = client.get(&server.url("/"), &fresh.validators).await.unwrap();
    assert_eq!(again, Fetched::Unchanged { fresh_until: fresh.fresh_until });
    let server = LocalServer::start(|_, _| Reply::status(304, &[])).await;
    let client =
        client_with(server.policy(&[]), &TestPace::new(NOW), "x", Vec::new(), limits(), Answers::of(&[&["127.0.0.1"]]));
    assert!(get(&client, &server.url("/")).await.is_err(), "nobody asked whether it changed");
}
