//! Speed and memory of an import of a million readings from a file, beside a bare bulk insert of the same rows
//! into the same table with nothing but the driver. Each run has a process and a database of its own, so that its
//! peak of memory is its own too. Run with `cargo bench --bench imports`; on PostgreSQL too where
//! `SUBIMAGO_TEST_POSTGRES` names a server.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    clippy::disallowed_methods,
    reason = "a test stops at the first surprise, says what it measured, and is told by its environment what to do"
)]
#![allow(missing_docs, reason = "a bench")]

#[path = "../store/support.rs"]
#[allow(dead_code, unused_macros, unused_imports, reason = "shared with the store's tests")]
mod support;

use std::fmt::Write as _;
use std::io::Write as _;
use std::process::Command;
use std::time::Instant;

use chrono::{DateTime, TimeDelta, Utc};
use sqlx::{Connection as _, QueryBuilder};
use subimago::app::import::{ImportOptions, import_readings};
use subimago::app::setup::import_setup;
use subimago::clock::FixedClock;
use subimago::domain::Slug;
use subimago::domain::civil::end_of_day;
use subimago::store::Db;

const GAUGES: usize = 10;
const ROUNDS: usize = 3;
const ROWS: usize = 1_000_000;
/// A quarter of the rows: what memory grows by from there to all of them is what a row costs.
const FEW: usize = ROWS / 4;
const TASK: &str = "SUBIMAGO_BENCH_TASK";
const SOURCE: &str = "file:million.csv";

/// Gauge, time and value of reading number `n` of `rows`: fifteen-minute readings, one gauge after the other.
fn reading(n: usize, rows: usize) -> (usize, DateTime<Utc>, f64) {
    let each = rows / GAUGES;
    let start = DateTime::from_timestamp(1_420_070_400, 0).unwrap();
    let step = n % each;
    let hours = step as f64 / 4.0;
    let wave = |period: f64| (hours / period * std::f64::consts::TAU).sin();
    let value = 10.0 + 6.0 * wave(365.25 * 24.0) + wave(24.0);
    (n / each, start + TimeDelta::minutes(15 * step as i64), (value * 100.0).round() / 100.0)
}

fn now() -> DateTime<Utc> {
    DateTime::from_timestamp(1_735_689_600, 0).unwrap()
}

/// Kilobytes that this process had at most.
fn peak_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap_or("0 kB");
    line.trim().trim_end_matches("kB").trim().parse().unwrap()
}

/// Declares the gauges.
async fn prepared(url: &str) -> Db {
    let db = Db::connect(url).await.unwrap();
    db.migrate().await.unwrap();
    let mut text = "[watershed]\nslug = \"w\"\nname = \"W\"\ntime_zone = \"Europe/London\"\n".to_owned();
    for gauge in 0..GAUGES {
        write!(text, "[[gauge]]\nslug = \"gauge-{gauge}\"\nname = \"{gauge}\"\n").unwrap();
    }
    let document = import_setup(&db, std::io::Cursor::new(text), &ImportOptions::default()).await.unwrap();
    assert!(document.accepted, "{:?}", document.faults);
    db
}

async fn imported(url: &str, rows: usize) -> f64 {
    let file = tempfile::tempfile().unwrap();
    let mut out = std::io::BufWriter::new(&file);
    out.write_all(b"site,at,value_c\n").unwrap();
    for n in 0..rows {
        let (gauge, at, value) = reading(n, rows);
        writeln!(out, "gauge-{gauge},{},{value}", at.format("%FT%TZ")).unwrap();
    }
    out.flush().unwrap();
    drop(out);
    let db = prepared(url).await;
    let options = ImportOptions { file: "million.csv".to_owned(), ..ImportOptions::default() };
    let (before, begin) = (peak_kib(), Instant::now());
    let watershed = Slug::new("w").unwrap();
    let document = import_readings(&db, &FixedClock(now()), &watershed, Box::new(file), &options).await.unwrap();
    let seconds = begin.elapsed().as_secs_f64();
    assert_eq!((document.created, document.flagged_count), (rows as u64, 0), "{:?}", document.faults);
    println!("peak {}", peak_kib() - before);
    db.close().await;
    seconds
}

/// The insert that a program would write with the driver alone: many rows a statement, prepared once, in one
/// transaction, on a connection with the settings that the store uses.
async fn inserted(url: &str, rows: usize) -> f64 {
    const HEAD: &str = "INSERT INTO reading (series_id, time_key, version, value, low, high, quality, reasons, \
        known_at, known_assumed, source, stored_at, qualifiers) ";
    const SERIES: &str = "INSERT INTO series (gauge_id, quantity, unit, method) SELECT id, 'water_temperature', 'C', \
        'instant' FROM gauge ORDER BY slug_key";
    prepared(url).await.close().await;
    let zone = chrono_tz::Europe::London;
    let all: Vec<(i64, i64, f64, i64)> = (0..rows)
        .map(|n| {
            let (gauge, at, value) = reading(n, rows);
            let known = end_of_day(zone, at.with_timezone(&zone).date_naive() + TimeDelta::days(1));
            (gauge as i64 + 1, at.timestamp_micros(), value, known.timestamp_micros())
        })
        .collect();
    let stored_at = now().timestamp_micros();
    macro_rules! insert {
        ($database:ty, $connection:expr) => {{
            let mut connection = $connection;
            sqlx::query(SERIES).execute(&mut connection).await.unwrap();
            let begin = Instant::now();
            let mut tx = connection.begin().await.unwrap();
            for chunk in all.chunks(1000) {
                let mut query = QueryBuilder::<$database>::new(HEAD);
                query.push_values(chunk, |mut row, (series, at, value, known)| {
                    row.push_bind(series).push_bind(at).push_bind(1_i64).push_bind(value);
                    row.push_bind(None::<f64>).push_bind(None::<f64>).push_bind("good").push_bind(None::<&str>);
                    row.push_bind(known).push_bind(1_i64).push_bind(SOURCE).push_bind(stored_at);
                    row.push_bind(None::<&str>);
                });
                query.build().execute(&mut *tx).await.unwrap();
            }
            tx.commit().await.unwrap();
            let seconds = begin.elapsed().as_secs_f64();
            connection.close().await.unwrap();
            seconds
        }};
    }
    if url.starts_with("sqlite") {
        use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqliteSynchronous};
        let options: SqliteConnectOptions = url.parse().unwrap();
        let options = options.journal_mode(SqliteJournalMode::Wal).synchronous(SqliteSynchronous::Full);
        let options = options.pragma("secure_delete", "ON");
        insert!(sqlx::Sqlite, sqlx::SqliteConnection::connect_with(&options).await.unwrap())
    } else {
        insert!(sqlx::Postgres, sqlx::PgConnection::connect(url).await.unwrap())
    }
}

/// Does one task in a process of its own: seconds, and by how many KiB its peak of memory grew.
fn measured(task: &str, rows: usize, url: &str) -> (f64, u64) {
    let program = std::env::current_exe().unwrap();
    let output = Command::new(program).env(TASK, format!("{task} {rows} {url}")).output().unwrap();
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{text}{}", String::from_utf8_lossy(&output.stderr));
    let number = |name: &str| text.lines().find_map(|line| line.strip_prefix(name)).map(str::to_owned);
    (number("seconds ").unwrap().parse().unwrap(), number("peak ").map_or(0, |peak| peak.parse().unwrap()))
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

async fn compared(name: &str, server: Option<&str>) {
    let folder = tempfile::tempdir().unwrap();
    let mut made = 0;
    let (mut bare, mut whole, mut peaks) = (Vec::new(), Vec::new(), Vec::new());
    let mut few = 0;
    for round in 0..ROUNDS {
        for (task, rows) in [("insert", ROWS), ("import", ROWS), ("import", FEW)] {
            if rows == FEW && round > 0 {
                continue;
            }
            made += 1;
            let database = match server {
                Some(server) => Some(support::create_database(server).await),
                None => None,
            };
            let path = folder.path().join(format!("{made}.db"));
            let url = database.as_ref().map_or_else(|| support::sqlite_url(&path), |(_, url)| url.clone());
            let (seconds, peak) = measured(task, rows, &url);
            match (task, rows) {
                ("insert", _) => bare.push(seconds),
                (_, FEW) => few = peak,
                _ => {
                    whole.push(seconds);
                    peaks.push(peak);
                }
            }
            match (server, database) {
                (Some(server), Some((name, _))) => support::drop_database(server, &name).await,
                _ => std::fs::remove_file(&path).unwrap(),
            }
        }
    }
    let (bare, whole) = (median(bare), median(whole));
    println!(
        "{name}: import {:.0} rows/s, bare insert {:.0} rows/s, {:.0} % of it; peak memory grew by {} KiB for {ROWS} rows, {few} KiB for {FEW}",
        ROWS as f64 / whole,
        ROWS as f64 / bare,
        100.0 * bare / whole,
        peaks.iter().max().unwrap(),
    );
}

fn main() {
    let runtime = tokio::runtime::Runtime::new().unwrap();
    if let Ok(task) = std::env::var(TASK) {
        let [task, rows, url] = task.splitn(3, ' ').collect::<Vec<_>>()[..] else { panic!("{task}") };
        let rows = rows.parse().unwrap();
        let seconds = if task == "import" {
            runtime.block_on(imported(url, rows))
        } else {
            runtime.block_on(inserted(url, rows))
        };
        println!("seconds {seconds}");
        return;
    }
    runtime.block_on(async {
        compared("SQLite", None).await;
        match std::env::var("SUBIMAGO_TEST_POSTGRES") {
            Ok(server) => compared("PostgreSQL", Some(&server)).await,
            Err(_) => println!("PostgreSQL was NOT measured: SUBIMAGO_TEST_POSTGRES is not set"),
        }
    });
}
