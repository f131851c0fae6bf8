//! A fresh database per test, and values to put in.

use std::future::Future;
use std::io::Write as _;
use std::panic::resume_unwind;
use std::pin::Pin;
use std::sync::Once;

use chrono::{DateTime, NaiveDate, NaiveTime, TimeDelta, Utc};
use sqlx::{AssertSqlSafe, Connection as _, PgConnection};
use subimago::domain::token::{Role, Token};
use subimago::domain::{Gauge, Reach, Slug, Taxon, WaterType, Watershed};
use subimago::store::{Db, Tx, place, taxon, token};
use uuid::Uuid;

/// Makes one test per database out of each named function of a [`Db`].
///
/// The functions are boxed in one place, and the tests stand in two modules: the compiler copies
/// an asynchronous function into every module that awaits it, and dozens of modules took minutes.
macro_rules! on_both {
    ($($name:ident),* $(,)?) => {
        mod boxed {
            $(pub(super) fn $name(db: subimago::store::Db) -> crate::support::Boxed {
                Box::pin(super::$name(db))
            })*
        }

        mod sqlite {
            $(#[tokio::test]
            async fn $name() {
                crate::support::on_sqlite(super::boxed::$name).await;
            })*
        }

        mod postgres {
            $(#[tokio::test]
            async fn $name() {
                crate::support::on_postgres(super::boxed::$name).await;
            })*
        }
    };
}
pub(crate) use on_both;

/// A test under way. Boxed, so that what runs it is compiled once and not once per test.
pub(crate) type Boxed = Pin<Box<dyn Future<Output = ()> + Send>>;

/// Runs `test` on a new SQLite file.
pub(crate) fn on_sqlite(test: fn(Db) -> Boxed) -> Boxed {
    Box::pin(async move {
        let folder = tempfile::tempdir().expect("temporary folder");
        let db = Db::connect(&sqlite_url(&folder.path().join("test.db"))).await.expect("connects");
        db.migrate().await.expect("migrates");
        test(db.clone()).await;
        db.close().await;
    })
}

/// The address of a SQLite file.
pub(crate) fn sqlite_url(path: &std::path::Path) -> String {
    format!("sqlite://{}", path.display())
}

/// Runs `test` on a new PostgreSQL database, where a server is named.
pub(crate) fn on_postgres(test: fn(Db) -> Boxed) -> Boxed {
    Box::pin(async move {
        let Some(server) = postgres_server() else { return };
        let (name, url) = create_database(&server).await;
        let db = Db::connect(&url).await.expect("connects");
        db.migrate().await.expect("migrates");
        let outcome = tokio::spawn(test(db.clone())).await;
        db.close().await;
        drop_database(&server, &name).await;
        if let Err(failure) = outcome {
            resume_unwind(failure.into_panic());
        }
    })
}

/// The server to test on; says so when there is none.
#[expect(clippy::disallowed_methods, reason = "which server to test on is a matter of the machine")]
pub(crate) fn postgres_server() -> Option<String> {
    static SAID: Once = Once::new();
    if let Ok(server) = std::env::var("SUBIMAGO_TEST_POSTGRES") {
        return Some(server);
    }
    assert!(
        std::env::var("CI").as_deref() != Ok("true"),
        "SUBIMAGO_TEST_POSTGRES is not set: with CI=true the store must be tested on PostgreSQL"
    );
    // Straight to the stream: the test harness hides what passing tests print.
    SAID.call_once(|| {
        let line = b"\nPostgreSQL was NOT tested: SUBIMAGO_TEST_POSTGRES is not set\n";
        std::io::stderr().write_all(line).expect("writes");
    });
    None
}

/// Makes a new database on `server`; returns its name and address.
pub(crate) async fn create_database(server: &str) -> (String, String) {
    let name = format!("subimago_test_{}", Uuid::new_v4().simple());
    let mut connection = PgConnection::connect(server).await.expect("the server answers");
    let sql = format!("CREATE DATABASE {name} TEMPLATE template0");
    sqlx::raw_sql(AssertSqlSafe(sql)).execute(&mut connection).await.expect("creates a database");
    connection.close().await.expect("closes");
    let (address, query) = server.split_once('?').map_or((server, None), |(a, q)| (a, Some(q)));
    let (host, _) = address.rsplit_once('/').expect("the address names a database");
    let query = query.map(|query| format!("?{query}")).unwrap_or_default();
    let url = format!("{host}/{name}{query}");
    (name, url)
}

/// Removes a database made by [`create_database`].
pub(crate) async fn drop_database(server: &str, name: &str) {
    let mut connection = PgConnection::connect(server).await.expect("the server answers");
    let sql = format!("DROP DATABASE {name} WITH (FORCE)");
    sqlx::raw_sql(AssertSqlSafe(sql)).execute(&mut connection).await.expect("drops the database");
    connection.close().await.expect("closes");
}

pub(crate) fn slug(text: &str) -> Slug {
    Slug::new(text).expect("valid slug")
}

/// Noon UTC, `days` after 1 May 2027.
pub(crate) fn at(days: i64) -> DateTime<Utc> {
    date(2027, 5, 1).and_time(NaiveTime::from_hms_opt(12, 0, 0).expect("valid")).and_utc() + TimeDelta::days(days)
}

pub(crate) fn date(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).expect("valid date")
}

pub(crate) fn ostrey() -> Watershed {
    Watershed {
        slug: slug("Ostrey"),
        name: "River Ostrey".to_owned(),
        time_zone: chrono_tz::Europe::London,
        units: subimago::domain::Units::Celsius,
    }
}

pub(crate) fn gauge(name: &str) -> Gauge {
    Gauge {
        slug: slug(name),
        name: format!("Gauge at {name}"),
        latitude: Some(54.123_456_789),
        longitude: Some(-2.5),
        source: Some("by hand".to_owned()),
        rights: subimago::domain::Rights::default(),
    }
}

pub(crate) fn reach(name: &str, gauges: &[&str]) -> Reach {
    Reach {
        slug: slug(name),
        name: format!("Reach {name}"),
        latitude: 54.1,
        longitude: -2.4,
        elevation_m: Some(120.5),
        water_type: Some(WaterType::SlowMargin),
        gauges: gauges.iter().map(|name| slug(name)).collect(),
    }
}

pub(crate) fn bare_taxon(name: &str) -> Taxon {
    Taxon::bare(slug(name), "Baetis rhodani", "species")
}

pub(crate) fn member(name: &str) -> Token {
    Token {
        id: Uuid::new_v4(),
        name: name.to_owned(),
        role: Role::Member,
        watersheds: vec![slug("ostrey")],
        created_at: at(0),
        expires_at: at(365),
        revoked_at: None,
        last_used_date: None,
    }
}

/// Stores the Ostrey with two gauges, two reaches and two resident taxa.
pub(crate) fn lay_out(tx: &mut Tx) -> Pin<Box<dyn Future<Output = ()> + Send + '_>> {
    Box::pin(async move {
        place::upsert_watershed(tx, &ostrey()).await.expect("stores");
        for name in ["Mill", "weir"] {
            place::upsert_gauge(tx, &slug("ostrey"), &gauge(name)).await.expect("stores");
        }
        for name in ["alder-fold", "Long-Pool"] {
            place::upsert_reach(tx, &slug("ostrey"), &reach(name, &["mill"])).await.expect("stores");
        }
        for name in ["rhodani", "danica"] {
            taxon::upsert_taxon(tx, &bare_taxon(name)).await.expect("stores");
            taxon::set_resident(tx, &slug("ostrey"), &slug(name), true).await.expect("stores");
        }
    })
}

/// Stores a member's token and returns it.
pub(crate) async fn enrol(tx: &mut Tx, name: &str) -> Token {
    let token = member(name);
    let mut hash = [0; 32];
    hash[..16].copy_from_slice(token.id.as_bytes());
    token::insert_token(tx, &token, &hash).await.expect("stores");
    token
}
