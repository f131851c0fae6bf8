//! Tables sent to be imported by a job.

use std::fmt::Write as _;
use std::sync::Arc;
use std::time::Duration;

use axum::body::Body;
use axum::http::Method;
use chrono::{DateTime, TimeDelta, Utc};
use futures_util::{StreamExt as _, stream};
use serde_json::{Value, json};
use subimago::clock::FixedClock;
use subimago::domain::job::Kinds;
use subimago::jobs::Runner;
use subimago::store::{Span, reading, record};

use crate::support::{Answer, TestApp, TestRequest, now, on_both, slug};

const READINGS: &str = "/v1/imports?watershed=ostrey&kind=readings";
const RECORDS: &str = "/v1/imports?watershed=ostrey&kind=records";
const KEY: &str = "import-number-0001";

fn send(app: &TestApp, path: &str, table: impl Into<String>) -> TestRequest {
    app.request(Method::POST, path).token(&app.keeper).header("content-type", "text/csv").raw(table.into())
}

fn worker(app: &TestApp, clock: DateTime<Utc>) -> Runner {
    Runner {
        db: app.service.db().clone(),
        clock: Arc::new(FixedClock(clock)),
        today: None,
        sources: None,
        kinds: Kinds::Only("import"),
        notify: Arc::new(|_| ()),
    }
}

async fn state(app: &TestApp, answer: &Answer) -> Value {
    let path = answer.header("location").strip_prefix("http://water.test").expect("ours").to_owned();
    app.get(&path).token(&app.keeper).send().await.expect(200).json()
}

/// Sends a table, lets a worker import it, and gives the job as it is then shown.
async fn imported(app: &TestApp, path: &str, table: impl Into<String>) -> Value {
    let answer = send(app, path, table).send().await.expect(202);
    assert_eq!(answer.json()["state"], "queued");
    assert!(worker(app, now()).step().await.expect("the table is read"), "a job was waiting");
    state(app, &answer).await
}

fn counts(job: &Value) -> [u64; 4] {
    ["created", "updated", "unchanged", "rejected"].map(|name| job["result"][name].as_u64().expect("a number"))
}

/// Readings every five minutes, in order.
fn readings(rows: i64) -> String {
    let mut text = "site,at,value_c\n".to_owned();
    let start = now() - TimeDelta::days(400);
    for row in 0..rows {
        let value = 10.0 + (row % 7) as f64 / 10.0;
        let _ = writeln!(text, "bridge,{},{value}", (start + TimeDelta::minutes(5 * row)).format("%FT%TZ"));
    }
    text
}

async fn stored(app: &TestApp) -> usize {
    let mut tx = app.service.db().read().await.expect("reads");
    reading::instant_readings(&mut tx, &slug("ostrey"), &slug("bridge"), None, Span::all()).await.expect("reads").len()
}

on_both! {
    async fn a_hundred_thousand_readings_are_taken_and_change_nothing_when_they_come_again(app) {
        let before = stored(&app).await;
        let table = readings(100_000);
        let job = imported(&app, READINGS, table.clone()).await;
        assert_eq!((&job["kind"], &job["state"]), (&json!("import"), &json!("done")), "{}", job["result"]);
        assert_eq!((&job["done"], &job["total"]), (&json!(100_000), &json!(100_000)));
        assert_eq!((counts(&job), &job["result"]["accepted"]), ([100_000, 0, 0, 0], &json!(true)));
        assert_eq!(stored(&app).await, before + 100_000);
        let again = imported(&app, READINGS, table).await;
        assert_eq!(counts(&again), [0, 0, 100_000, 0]);
        assert_eq!(stored(&app).await, before + 100_000);
    }
}

on_both! {
    async fn records_are_taken_with_codes_and_fitted_next(app) {
        let path = format!("{RECORDS}&columns=site=place&map=place,M,mill-meadow&map=abundance_class,A,sparse&file=book.csv");
        let table = "place,date_from,date_to,taxon,abundance_class\nM,2026-05-16,2026-05-16,ephemera-danica,A\n";
        let trial = imported(&app, &format!("{path}&dry_run=true"), table).await;
        assert_eq!((counts(&trial), &trial["result"]["dry_run"]), ([1, 0, 0, 0], &json!(true)));
        let records = async || {
            let mut tx = app.service.db().read().await.expect("reads");
            let all = record::records(&mut tx, &slug("ostrey"), None, None).await.expect("reads");
            all.into_iter().filter(|record| record.source == "file:book.csv").count()
        };
        assert_eq!(records().await, 0, "a trial stores nothing");
        let job = imported(&app, &path, table).await;
        assert_eq!(counts(&job), [1, 0, 0, 0], "{job}");
        assert_eq!(records().await, 1);
        let mut tx = app.service.db().read().await.expect("reads");
        let jobs = subimago::store::job::jobs(&mut tx, &slug("ostrey"), 10).await.expect("reads");
        assert!(jobs.iter().any(|job| job.kind == "fit"), "{jobs:?}");
        drop(tx);
        // Two visits of one day that nothing tells apart.
        let twice = format!("{table}M,2026-05-16,2026-05-16,ephemera-danica,none\n");
        let refused = imported(&app, &path, twice.clone()).await;
        assert_eq!((&refused["result"]["accepted"], counts(&refused)), (&json!(false), [0, 0, 0, 2]));
        let both = imported(&app, &format!("{path}&separate_visits=true"), twice).await;
        assert_eq!(counts(&both), [1, 0, 1, 0], "{both}");
    }
}

on_both! {
    async fn wrong_rows_are_told_and_store_nothing_unless_the_good_ones_shall_be(app) {
        let before = stored(&app).await;
        let table = "site,at,value_c\nbridge,2026-05-01T00:00:00Z,9.5\nweir9,2026-05-01T00:00:00Z,9.5\nbridge,2026-05-01T01:00:00Z,warm\n";
        let refused = imported(&app, READINGS, table).await;
        assert_eq!((&refused["state"], &refused["result"]["accepted"]), (&json!("done"), &json!(false)));
        assert_eq!(counts(&refused), [0, 0, 0, 3]);
        let faults = refused["result"]["faults"].as_array().expect("faults");
        let told: Vec<_> = faults.iter().map(|f| (f["line"].as_u64(), f["column"].as_str(), f["value"].as_str())).collect();
        assert_eq!(told, [(Some(3), Some("site"), Some("weir9")), (Some(4), Some("value_c"), Some("warm"))]);
        assert_eq!(stored(&app).await, before);
        let kept = imported(&app, &format!("{READINGS}&mode=best_effort"), table).await;
        assert_eq!(counts(&kept), [1, 0, 0, 2]);
        assert_eq!(stored(&app).await, before + 1);
        let rows = format!("site,date_from,date_to,taxon,count\n{}", "x\n".repeat(250_001));
        let many = imported(&app, RECORDS, rows).await;
        assert_eq!((&many["result"]["accepted"], &many["result"]["faults"][0]["code"]), (&json!(false), &json!("too-large")));
        let empty = imported(&app, RECORDS, "").await;
        assert_eq!(empty["result"]["faults"][0]["code"], "empty");
    }
}

on_both! {
    async fn a_worker_that_dies_leaves_nothing_half_written_and_another_goes_on(app) {
        let before = stored(&app).await;
        let answer = send(&app, READINGS, readings(30_000)).send().await.expect(202);
        let first = worker(&app, now());
        let dying = tokio::spawn(async move { first.step().await.map(drop) });
        while state(&app, &answer).await["total"] != 30_000 {
            assert!(!dying.is_finished(), "it was to die before its end");
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
        dying.abort();
        assert!(dying.await.is_err_and(|error| error.is_cancelled()), "it was storing rows");
        assert_eq!(stored(&app).await, before);
        assert_eq!(state(&app, &answer).await["state"], "running");
        assert!(!worker(&app, now()).step().await.expect("reads"), "it is held until its lease ends");
        assert!(worker(&app, now() + TimeDelta::seconds(31)).step().await.expect("reads"));
        let job = state(&app, &answer).await;
        assert_eq!((&job["state"], &job["attempts"], counts(&job)), (&json!("done"), &json!(2), [30_000, 0, 0, 0]));
        assert_eq!(stored(&app).await, before + 30_000);
    }
}

on_both! {
    async fn what_cannot_be_a_table_is_refused_at_once(app) {
        let answer = app.post(RECORDS, &json!({})).token(&app.keeper).send().await;
        assert_eq!(answer.header("accept"), "text/csv");
        answer.problem(415, "unsupported-media-type");
        send(&app, RECORDS, "site\n").header("content-length", "60000000").send().await.problem(413, "too-large");
        let bytes = app.request(Method::POST, RECORDS).token(&app.keeper).header("content-type", "text/csv; charset=utf-8");
        let problem = bytes.raw(&b"site\nM\xfchle\n"[..]).send().await.problem(422, "invalid-document");
        assert!(problem["errors"][0]["detail"].as_str().expect("words").contains("line 2"), "{problem}");
        send(&app, RECORDS, "si\0te\n").send().await.problem(422, "invalid-document");
        let many = "/v1/imports?kind=trees&dry_run=perhaps&columns=site&map=a,b&mode=best_effort&separate_visits=true";
        let problem = send(&app, many, "site\n").send().await.problem(400, "bad-query");
        let named: Vec<&str> = problem["errors"].as_array().expect("errors").iter().filter_map(|e| e["parameter"].as_str()).collect();
        assert_eq!(named, ["kind", "dry_run", "separate_visits"], "{problem}");
        let problem = send(&app, "/v1/imports?columns=site&map=a,b", "site\n").send().await.problem(400, "bad-query");
        let named: Vec<&str> = problem["errors"].as_array().expect("errors").iter().filter_map(|e| e["parameter"].as_str()).collect();
        assert_eq!(named, ["watershed", "kind", "map"], "{problem}");
        send(&app, "/v1/imports?watershed=nowhere&kind=records", "site\n").send().await.problem(404, "not-found");
        let job = app.post("/v1/watersheds/ostrey/fits", &json!({})).token(&app.keeper).send().await.expect(202).json();
        let path = format!("/v1/imports/{}", job["id"].as_str().expect("an id"));
        app.get(&path).token(&app.keeper).send().await.problem(404, "not-found");
    }
}

on_both! {
    async fn the_same_request_makes_one_import_and_only_some_may_wait(app) {
        let keyed = |path: &str, table: &str| send(&app, path, table).header("idempotency-key", KEY);
        let first = keyed(RECORDS, "site\n").send().await.expect(202);
        let again = keyed(RECORDS, "site\n").send().await.expect(202);
        assert_eq!((again.header("idempotent-replayed"), &again.bytes), ("true", &first.bytes));
        keyed(RECORDS, "reach\n").send().await.problem(422, "idempotency-key-reused");
        keyed(READINGS, "site\n").send().await.problem(422, "idempotency-key-reused");
        for _ in 0..3 {
            send(&app, RECORDS, "site\n").send().await.expect(202);
        }
        let refused = send(&app, RECORDS, "site\n").send().await;
        assert_eq!(refused.header("retry-after"), "30");
        refused.problem(429, "too-many-requests");
        assert!(worker(&app, now()).step().await.expect("reads"));
        send(&app, RECORDS, "site\n").send().await.expect(202);
    }
}

on_both! {
    async fn who_lends_data_is_named(app) {
        const GAUGE: &str = "/v1/watersheds/ostrey/gauges/bridge";
        let tag = app.get(GAUGE).send().await.expect(200).header("etag").to_owned();
        let terms = json!({ "licence": "CC BY 4.0", "citation": "Ostrey Board (invented), 2026" });
        app.patch(GAUGE, &terms).header("if-match", tag).token(&app.keeper).send().await.expect(200);
        let gauge = app.get(GAUGE).send().await.expect(200).json();
        assert_eq!((&gauge["licence"], &gauge["citation"]), (&terms["licence"], &terms["citation"]));
        let page = app.get("/w/ostrey").send().await.expect(200).text();
        assert!(page.contains("Ostrey Board (invented), 2026 (CC BY 4.0)"), "{page}");
        let tag = app.get(GAUGE).send().await.expect(200).header("etag").to_owned();
        let long = app.patch(GAUGE, &json!({ "citation": "a\nb", "licence": "x".repeat(201) })).header("if-match", tag);
        let problem = long.token(&app.keeper).send().await.problem(422, "invalid-document");
        assert!(crate::support::pointers(&problem).contains(&"#/licence".to_owned()), "{problem}");

        let table = "site,date_from,date_to,taxon,count\nmill-meadow,2026-05-01,2026-05-08,ephemera-danica,3\n";
        let path = format!("{RECORDS}&file=lent.csv&licence=CC0&citation=A%20notebook");
        assert_eq!(counts(&imported(&app, &path, table).await), [1, 0, 0, 0]);
        let mut tx = app.service.db().read().await.expect("reads");
        let rights = subimago::store::record_source::rights(&mut tx, &slug("ostrey")).await.expect("reads");
        assert_eq!(rights["file:lent.csv"].citation.as_deref(), Some("A notebook"));
        drop(tx);
        let problem = send(&app, &format!("{READINGS}&licence=CC0"), "site\n").send().await.problem(400, "bad-query");
        assert_eq!(problem["errors"][0]["parameter"], "licence", "{problem}");
    }
}

on_both! {
    async fn an_import_can_be_stopped_before_it_ends_and_stores_nothing(app) {
        let before = stored(&app).await;
        let path_of = |answer: &Answer| answer.header("location").strip_prefix("http://water.test").expect("ours").to_owned();
        let stop = |path: &str| app.request(Method::DELETE, path).token(&app.keeper);
        let parts = async || {
            let mut tx = app.service.db().write().await.expect("writes");
            subimago::store::import_part::tidy_parts(&mut tx).await.expect("counts")
        };
        // While it waits.
        let waiting = send(&app, READINGS, readings(20)).send().await.expect(202);
        app.request(Method::DELETE, &path_of(&waiting)).token(&app.member).send().await.problem(403, "forbidden");
        let stopped = stop(&path_of(&waiting)).send().await.expect(200).json();
        assert_eq!((&stopped["state"], &stopped["result"]), (&json!("cancelled"), &Value::Null));
        assert!(!worker(&app, now()).step().await.expect("reads"), "nothing waits");
        assert_eq!((stored(&app).await, parts().await), (before, 0), "the file is forgotten, too");

        // While a worker has read it and is about to store it: it ends without rows and without a complaint.
        let running = send(&app, READINGS, readings(30_000)).send().await.expect(202);
        let first = worker(&app, now());
        let work = tokio::spawn(async move { first.step().await });
        while state(&app, &running).await["total"] != 30_000 {
            assert!(!work.is_finished(), "it was to be stopped before its end");
            tokio::time::sleep(Duration::from_millis(2)).await;
        }
        // A database of one writer is waited for: there the import may be the first.
        let mut answer = stop(&path_of(&running)).send().await;
        while answer.status.as_u16() == 503 {
            // On a busy machine longer than an answer may take; it says to ask again.
            answer = stop(&path_of(&running)).send().await;
        }
        let stopped = answer.status.as_u16() == 200;
        assert!(stopped || answer.status.as_u16() == 409, "{}", answer.text());
        assert!(work.await.expect("no panic").expect("no fault of the table"), "a job was taken");
        let job = state(&app, &running).await;
        if stopped {
            assert_eq!((&job["state"], stored(&app).await, parts().await), (&json!("cancelled"), before, 0));
        } else {
            assert_eq!((&job["state"], stored(&app).await), (&json!("done"), before + 30_000));
        }
        assert!(!worker(&app, now() + TimeDelta::days(1)).step().await.expect("reads"), "it is not tried again");

        // What has ended stays.
        let again = stop(&path_of(&running)).send().await.problem(409, "conflict");
        assert!(again["detail"].as_str().expect("text").contains("has ended"), "{again}");
        let unknown = "/v1/imports/01890a5d-ac96-774b-bcce-b302099a8057";
        stop(unknown).send().await.problem(404, "not-found");
    }
}

on_both! {
    async fn a_worker_whose_import_was_stopped_cannot_store_it(app) {
        let before = stored(&app).await;
        let answer = send(&app, READINGS, readings(50)).send().await.expect(202);
        // The worker has claimed it, and its work goes on after the keeper stopped it.
        let clock = FixedClock(now());
        let db = app.service.db();
        let job = subimago::app::work::claim(db, &clock, Kinds::Only("import")).await.expect("reads").expect("a job");
        let path = answer.header("location").strip_prefix("http://water.test").expect("ours").to_owned();
        app.request(Method::DELETE, &path).token(&app.keeper).send().await.expect(200);
        let outcome = subimago::app::work::execute(db, &clock, &job, None, None).await;
        assert!(outcome.is_err(), "{outcome:?}");
        subimago::app::work::finish(db, &clock, &job, &outcome).await.expect("a stopped job is no fault");
        assert_eq!((state(&app, &answer).await["state"].clone(), stored(&app).await), (json!("cancelled"), before));
    }
}

/// The bytes of `table` in two halves, the second a second and a half later: longer than the other requests of this
/// service may take.
fn slowly(table: &str) -> Body {
    let halves = table.as_bytes().split_at(table.len() / 2);
    let halves = [halves.0.to_vec(), halves.1.to_vec()];
    Body::from_stream(stream::iter(halves.into_iter().enumerate()).then(|(number, half)| async move {
        tokio::time::sleep(Duration::from_millis(1500 * number as u64)).await;
        Ok::<_, std::io::Error>(half)
    }))
}

on_both! {
    async fn a_table_over_a_slow_line_is_waited_for(app) {
        let request = app.request(Method::POST, READINGS).token(&app.keeper).header("content-type", "text/csv");
        request.raw(slowly(&readings(10))).send().await.expect(202);
        // Where no table is expected nobody waits so long.
        let body = json!({ "readings": [{ "date": "2026-05-01", "tmean_c": 10 }] }).to_string();
        let request = app.request(Method::POST, "/v1/watersheds/ostrey/gauges/bridge/readings").token(&app.keeper);
        request.header("content-type", "application/json").raw(slowly(&body)).send().await.expect(503);
    }
}
