//! A service with a small invented water in it, and requests to send to it.

use std::future::Future;
use std::io::Write as _;
use std::panic::resume_unwind;
use std::pin::Pin;
use std::sync::{Arc, Once};

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Method, Request, StatusCode};
use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use http_body_util::BodyExt as _;
use serde_json::Value;
use sqlx::{AssertSqlSafe, Connection as _, PgConnection};
use subimago::app::{Service, token};
use subimago::clock::FixedClock;
use subimago::domain::Slug;
use subimago::domain::token::{Role, Token};
use subimago::http::{AppState, Settings, router_with};
use subimago::store::{Db, place, token as token_store};
use tower::ServiceExt as _;
use uuid::Uuid;

use crate::water;

/// Makes one test per database out of one body.
macro_rules! on_both {
    ($(#[$about:meta])* async fn $name:ident($app:ident) $body:block) => {
        mod $name {
            #[allow(unused_imports, reason = "some bodies need nothing but the service")]
            use super::*;

            $(#[$about])*
            fn body($app: crate::support::TestApp) -> crate::support::Boxed {
                Box::pin(async move $body)
            }

            #[tokio::test]
            async fn sqlite() {
                crate::support::on_sqlite(body).await;
            }

            #[tokio::test]
            async fn postgres() {
                crate::support::on_postgres(body).await;
            }
        }
    };
}
pub(crate) use on_both;

/// A test under way.
pub(crate) type Boxed = Pin<Box<dyn Future<Output = ()> + Send>>;

/// A service with a water, and the secrets of its people.
#[derive(Debug, Clone)]
pub(crate) struct TestApp {
    pub(crate) service: Service,
    pub(crate) router: Router,
    pub(crate) keeper: String,
    pub(crate) member: String,
    pub(crate) other_member: String,
    /// Keeper of another water.
    pub(crate) stranger: String,
}

/// Runs `test` on a new SQLite file.
pub(crate) async fn on_sqlite(test: fn(TestApp) -> Boxed) {
    let folder = tempfile::tempdir().expect("temporary folder");
    let db = Db::connect(&format!("sqlite://{}", folder.path().join("test.db").display())).await.expect("connects");
    test(TestApp::on(db.clone()).await).await;
    db.close().await;
}

/// Runs `test` on a new PostgreSQL database, where a server is named.
pub(crate) async fn on_postgres(test: fn(TestApp) -> Boxed) {
    let Some(server) = postgres_server() else { return };
    let name = format!("subimago_api_{}", Uuid::new_v4().simple());
    administer(&server, format!("CREATE DATABASE {name} TEMPLATE template0")).await;
    let (address, query) = server.split_once('?').map_or((&*server, None), |(a, q)| (a, Some(q)));
    let (host, _) = address.rsplit_once('/').expect("the address names a database");
    let query = query.map(|query| format!("?{query}")).unwrap_or_default();
    let db = Db::connect(&format!("{host}/{name}{query}")).await.expect("connects");
    let ran = tokio::spawn(async move {
        test(TestApp::on(db.clone()).await).await;
        db.close().await;
    });
    let outcome = ran.await;
    administer(&server, format!("DROP DATABASE {name} WITH (FORCE)")).await;
    if let Err(failure) = outcome {
        resume_unwind(failure.into_panic());
    }
}

async fn administer(server: &str, sql: String) {
    let mut connection = PgConnection::connect(server).await.expect("the server answers");
    sqlx::raw_sql(AssertSqlSafe(sql)).execute(&mut connection).await.expect("the server obeys");
    connection.close().await.expect("closes");
}

/// The server to test on; says so when there is none.
#[expect(clippy::disallowed_methods, reason = "which server to test on is a matter of the machine")]
fn postgres_server() -> Option<String> {
    static SAID: Once = Once::new();
    if let Ok(server) = std::env::var("SUBIMAGO_TEST_POSTGRES") {
        return Some(server);
    }
    assert!(
        std::env::var("CI").as_deref() != Ok("true"),
        "SUBIMAGO_TEST_POSTGRES is not set: with CI=true the interface must be tested on PostgreSQL"
    );
    // Straight to the stream: the test harness hides what passing tests print.
    SAID.call_once(|| {
        let line = b"\nPostgreSQL was NOT tested: SUBIMAGO_TEST_POSTGRES is not set\n";
        std::io::stderr().write_all(line).expect("writes");
    });
    None
}

pub(crate) fn slug(text: &str) -> Slug {
    Slug::new(text).expect("valid slug")
}

pub(crate) fn date(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).expect("valid date")
}

/// The clock of all tests: noon UTC on 20 May 2026.
pub(crate) fn now() -> DateTime<Utc> {
    date(2026, 5, 20).and_hms_opt(12, 0, 0).expect("valid time").and_utc()
}

impl TestApp {
    async fn on(db: Db) -> Self {
        db.migrate().await.expect("migrates");
        let service = Service::builder(db.clone(), Arc::new(FixedClock(now()))).build();
        water::fill(&db).await;
        {
            let mut tx = db.write().await.expect("writes");
            place::upsert_watershed(&mut tx, &water::other_watershed()).await.expect("stores");
            tx.commit().await.expect("commits");
        }
        let keeper = hand_out(&db, "the keeper", Role::Keeper, "ostrey").await;
        let member = hand_out(&db, "a member", Role::Member, "ostrey").await;
        let other_member = hand_out(&db, "another member", Role::Member, "ostrey").await;
        let stranger = hand_out(&db, "keeper of another water", Role::Keeper, "elsewhere").await;
        service.refresh().await.expect("loads");
        let settings = Settings {
            public_url: "http://water.test".to_owned(),
            write_origins: vec!["https://club.test".to_owned()],
            embed_hosts: vec!["https://club.test".to_owned(), "https://*.angling.test".to_owned()],
            handler_timeout_s: 1,
            ..Settings::default()
        };
        let router = router_with(AppState::new(service.clone(), settings), failing_routes());
        Self { service, router, keeper, member, other_member, stranger }
    }

    /// Starts a request.
    pub(crate) fn request(&self, method: Method, path: &str) -> TestRequest {
        let builder = Request::builder().method(method).uri(path);
        TestRequest { router: self.router.clone(), builder, body: Body::empty() }
    }

    pub(crate) fn get(&self, path: &str) -> TestRequest {
        self.request(Method::GET, path)
    }

    pub(crate) fn post(&self, path: &str, body: &Value) -> TestRequest {
        self.request(Method::POST, path).json(body)
    }

    pub(crate) fn patch(&self, path: &str, body: &Value) -> TestRequest {
        self.request(Method::PATCH, path).json(body)
    }
}

/// Routes that fail on purpose, behind the same layers as all others.
fn failing_routes() -> Router<AppState> {
    use axum::routing::{get, post};
    async fn panics() {
        panic!("on purpose");
    }
    async fn sleeps() {
        tokio::time::sleep(std::time::Duration::from_secs(5)).await;
    }
    Router::new()
        .route("/test/panics", get(panics))
        .route("/test/sleeps", get(sleeps))
        .route("/test/swallows", post(|_: axum::body::Bytes| async {}))
}

/// Makes a token and returns its secret.
async fn hand_out(db: &Db, name: &str, role: Role, watershed: &str) -> String {
    let secret = token::make().expect("random bytes");
    let made = Token {
        id: Uuid::now_v7(),
        name: name.to_owned(),
        role,
        watersheds: vec![slug(watershed)],
        created_at: now() - TimeDelta::days(1),
        expires_at: now() + TimeDelta::days(364),
        revoked_at: None,
        last_used_date: None,
    };
    let mut tx = db.write().await.expect("writes");
    let hash = token::hash(&secret).expect("well formed");
    token_store::insert_token(&mut tx, &made, &hash).await.expect("stores");
    tx.commit().await.expect("commits");
    secret
}

/// A request being put together.
#[derive(Debug)]
pub(crate) struct TestRequest {
    router: Router,
    builder: axum::http::request::Builder,
    body: Body,
}

impl TestRequest {
    pub(crate) fn header(mut self, name: &str, value: impl AsRef<str>) -> Self {
        self.builder = self.builder.header(name, value.as_ref());
        self
    }

    pub(crate) fn token(self, secret: &str) -> Self {
        self.header("authorization", format!("Bearer {secret}"))
    }

    pub(crate) fn json(self, body: &Value) -> Self {
        self.header("content-type", "application/json").raw(body.to_string())
    }

    pub(crate) fn raw(mut self, body: impl Into<Body>) -> Self {
        self.body = body.into();
        self
    }

    /// Sends it. Boxed, so that the many tests that await answers stay small to compile.
    pub(crate) fn send(self) -> Pin<Box<dyn Future<Output = Answer> + Send>> {
        Box::pin(self.sent())
    }

    async fn sent(self) -> Answer {
        let request = self.builder.body(self.body).expect("a request");
        let response = self.router.oneshot(request).await.expect("infallible");
        let (parts, body) = response.into_parts();
        let bytes = body.collect().await.expect("a body").to_bytes().to_vec();
        Answer { status: parts.status, headers: parts.headers, bytes }
    }
}

/// What came back.
#[derive(Debug)]
pub(crate) struct Answer {
    pub(crate) status: StatusCode,
    pub(crate) headers: HeaderMap,
    pub(crate) bytes: Vec<u8>,
}

impl Answer {
    pub(crate) fn text(&self) -> String {
        String::from_utf8(self.bytes.clone()).expect("UTF-8")
    }

    #[track_caller]
    pub(crate) fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }

    #[track_caller]
    pub(crate) fn header(&self, name: &str) -> &str {
        let value = self.headers.get(name).unwrap_or_else(|| panic!("no {name} in {:?}", self.headers));
        value.to_str().expect("ASCII")
    }

    #[track_caller]
    pub(crate) fn expect(self, status: u16) -> Self {
        assert_eq!(self.status.as_u16(), status, "{}", self.text());
        self
    }

    /// A problem of that status, well formed in body and headers.
    #[track_caller]
    pub(crate) fn problem(self, status: u16, kind: &str) -> Value {
        let answer = self.expect(status);
        assert_eq!(answer.header("content-type"), "application/problem+json");
        let body = answer.json();
        assert_eq!(body["type"], format!("http://water.test/problems/{kind}"), "{body}");
        assert_eq!(body["status"], status);
        assert_eq!(body["request_id"], answer.header("x-request-id"));
        for member in ["title", "detail", "instance"] {
            assert!(body[member].as_str().is_some_and(|text| !text.is_empty()), "{member} in {body}");
        }
        body
    }
}

/// Pointers of the errors in a problem, sorted.
pub(crate) fn pointers(problem: &Value) -> Vec<String> {
    let mut found: Vec<String> = problem["errors"]
        .as_array()
        .expect("errors")
        .iter()
        .map(|error| error["pointer"].as_str().expect("a pointer").to_owned())
        .collect();
    found.sort();
    found
}
