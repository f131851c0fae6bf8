//! Gauges whose readings come from an open service: what may be named, what is queued, who is thanked.

use serde_json::{Value, json};
use subimago::domain::{Quality, Quantity, Reading, ReadingTime};
use subimago::store::reading::put_readings;

use crate::support::{TestApp, date, now, on_both, slug};

const GAUGE: &str = "/v1/watersheds/ostrey/gauges/bridge";

async fn name_source(app: &TestApp, source: &str) -> crate::support::Answer {
    let tag = app.get(GAUGE).send().await.expect(200).header("etag").to_owned();
    app.patch(GAUGE, &json!({ "source": source })).header("if-match", tag).token(&app.keeper).send().await
}

on_both! {
    async fn a_source_is_checked_where_it_is_named(app) {
        let answer = name_source(&app, "usgs:01420500").await;
        let problem = answer.problem(422, "invalid-document");
        assert_eq!(problem["errors"][0]["pointer"], "#/source", "{problem}");
        assert!(problem["errors"][0]["detail"].as_str().expect("words").contains("agency"), "{problem}");
        name_source(&app, "read by hand").await.expect(200);
        let gauge = app.get(GAUGE).send().await.expect(200).json();
        assert_eq!(gauge["credit"], Value::Null);
        let problem = app.request(axum::http::Method::POST, &format!("{GAUGE}/sync")).token(&app.keeper).send().await;
        problem.problem(409, "conflict");
    }
}

on_both! {
    async fn fetching_is_queued_once_and_its_source_is_thanked(app) {
        let gauge = name_source(&app, "usgs:USGS-01420500").await.expect(200).json();
        assert_eq!(gauge["credit"]["licence"], "US public domain");
        let ask = || app.request(axum::http::Method::POST, &format!("{GAUGE}/sync")).token(&app.keeper).send();
        let answer = ask().await.expect(202);
        let job = answer.json();
        assert_eq!((&job["kind"], &job["state"]), (&json!("sync"), &json!("queued")));
        let address = answer.header("location").to_owned();
        assert_eq!(address, format!("http://water.test/v1/jobs/{}", job["id"].as_str().expect("an id")));
        assert_eq!(ask().await.expect(202).json()["id"], job["id"], "it waits already");
        for page in ["/w/ostrey", "/w/ostrey/reaches/mill-meadow"] {
            let html = app.get(page).send().await.expect(200).text();
            assert!(html.contains("U.S. Geological Survey, USGS-01420500"), "{page}");
            assert!(html.contains("US public domain") && html.contains("provisional"), "{page}");
        }
    }
}

on_both! {
    async fn readings_carry_the_marks_of_their_source(app) {
        let reading = Reading {
            gauge: slug("bridge"),
        quantity: Quantity::WaterTemperature,
            time: ReadingTime::day(date(2026, 5, 18), 11.0, None, None).expect("valid"),
            quality: Quality::Suspect,
            reasons: vec!["flagged by the source as suspect".to_owned()],
            known_at: now(),
            known_assumed: false,
            source: "usgs:USGS-01420500".to_owned(),
            qualifiers: vec!["Provisional".to_owned(), "ESTIMATED".to_owned()],
        };
        let mut tx = app.service.db().write().await.expect("writes");
        put_readings(&mut tx, &slug("ostrey"), &[reading], now()).await.expect("stores");
        tx.commit().await.expect("commits");
        let list = app.get(&format!("{GAUGE}/readings?from=2026-05-18&to=2026-05-18")).send().await.expect(200).json();
        let row = &list["items"][0];
        assert_eq!(row["source"], "usgs:USGS-01420500");
        assert_eq!((&row["qualifiers"], &row["flag"]), (&json!(["Provisional", "ESTIMATED"]), &json!("suspect")));
    }
}
