//! Requests that come again, and people who want to be forgotten.

use serde_json::{Value, json};

use crate::documents::{KEY, report};
use crate::support::{Answer, TestApp, on_both};

const REPORT: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";

/// Every creating request but that for tokens, with a body that asks for something else.
fn requests() -> Vec<(&'static str, Value, Value)> {
    let w = "/v1/watersheds/ostrey";
    let path = |rest: &str| -> &'static str { format!("{w}{rest}").leak() };
    let reading = |mean: i32| json!({ "readings": [{ "date": "2026-05-01", "tmean_c": mean }] });
    let mut other_report = report(REPORT);
    other_report["id"] = json!("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e99");
    vec![
        (
            "/v1/watersheds",
            json!({ "slug": "new", "name": "N", "time_zone": "Europe/London" }),
            json!({ "slug": "other", "name": "N", "time_zone": "Europe/London" }),
        ),
        (
            path("/reaches"),
            json!({ "slug": "new", "name": "N", "latitude": 51, "longitude": -1 }),
            json!({ "slug": "other", "name": "N", "latitude": 51, "longitude": -1 }),
        ),
        (path("/gauges"), json!({ "slug": "new", "name": "N" }), json!({ "slug": "other", "name": "N" })),
        (
            "/v1/taxa",
            json!({ "slug": "new", "scientific_name": "Nova", "rank": "genus" }),
            json!({ "slug": "other", "scientific_name": "Nova", "rank": "genus" }),
        ),
        (path("/taxa"), json!({ "taxon": "new" }), json!({ "taxon": "ephemera-danica" })),
        (path("/gauges/bridge/readings"), reading(10), reading(11)),
        (path("/fits"), json!({}), json!({ "taxon": "ephemera-danica" })),
        ("/v1/reports", report(REPORT), other_report),
    ]
}

async fn post(app: &TestApp, path: &str, body: &Value, key: &str) -> Answer {
    app.post(path, body).token(&app.keeper).header("idempotency-key", key).send().await
}

on_both! {
    async fn the_same_request_is_answered_as_the_first_time(app) {
        for (path, body, other) in requests() {
            let first = post(&app, path, &body, KEY).await;
            assert!(first.status.is_success() && !first.headers.contains_key("idempotent-replayed"), "{path}: {}", first.text());
            // However its members are ordered, and with the key in quotes.
            let quoted = format!("\"{KEY}\"");
            let again = post(&app, path, &body, &quoted).await;
            let expected = if path == "/v1/reports" { 200 } else { first.status.as_u16() };
            let again = again.expect(expected);
            assert_eq!(again.header("idempotent-replayed"), "true", "{path}");
            assert_eq!(again.bytes, first.bytes, "{path}");
            assert_eq!(again.headers.get("location"), first.headers.get("location"), "{path}");
            assert_eq!(again.header("etag"), first.header("etag"), "{path}");
            post(&app, path, &other, KEY).await.problem(422, "idempotency-key-reused");
            assert!(post(&app, path, &other, "another-key-number-1").await.status.is_success(), "{path}");
        }
        // Without a key the second request is work of its own: the slug is taken.
        app.post("/v1/taxa", &requests()[3].1).token(&app.keeper).send().await.problem(409, "conflict");
        for path in ["/v1/taxa", "/v1/watersheds/ostrey/fits"] {
            app.post(path, &json!({})).token(&app.keeper).header("idempotency-key", "short").send().await
                .problem(400, "idempotency-key-needed");
        }
    }
}

on_both! {
    async fn a_refused_request_leaves_its_key_free(app) {
        let wrong = json!({ "slug": "new", "name": "N", "latitude": 51, "longitude": -1, "gauges": ["nowhere"] });
        let path = "/v1/watersheds/ostrey/reaches";
        post(&app, path, &wrong, KEY).await.problem(422, "invalid-document");
        let right = json!({ "slug": "new", "name": "N", "latitude": 51, "longitude": -1 });
        post(&app, path, &right, KEY).await.expect(201);
    }
}

on_both! {
    async fn keys_belong_to_one_token_and_one_address(app) {
        let gauge = json!({ "slug": "new", "name": "N" });
        post(&app, "/v1/watersheds/ostrey/gauges", &gauge, KEY).await.expect(201);
        app.post("/v1/watersheds/elsewhere/gauges", &gauge).token(&app.stranger).header("idempotency-key", KEY).send().await
            .expect(201);
        let taxon = json!({ "slug": "new", "scientific_name": "Nova", "rank": "genus" });
        post(&app, "/v1/taxa", &taxon, KEY).await.expect(201);
        app.post("/v1/taxa", &taxon).token(&app.stranger).header("idempotency-key", KEY).send().await.problem(409, "conflict");
    }
}

on_both! {
    async fn two_at_once_make_one(app) {
        let body = json!({ "slug": "new", "scientific_name": "Nova", "rank": "genus" });
        let (one, other) = tokio::join!(Box::pin(post(&app, "/v1/taxa", &body, KEY)), Box::pin(post(&app, "/v1/taxa", &body, KEY)));
        let (one, other) = (one.expect(201), other.expect(201));
        assert_eq!(one.bytes, other.bytes);
        let replayed = [&one, &other].iter().filter(|answer| answer.headers.contains_key("idempotent-replayed")).count();
        assert_eq!(replayed, 1);
    }
}

on_both! {
    async fn a_secret_is_never_shown_twice(app) {
        let wish = json!({ "name": "x", "role": "member", "watersheds": ["ostrey"] });
        let first = post(&app, "/v1/tokens", &wish, KEY).await.expect(201);
        let again = post(&app, "/v1/tokens", &wish, KEY).await.problem(409, "conflict");
        let path = first.header("location").strip_prefix("http://water.test").expect("ours");
        assert!(again["detail"].as_str().expect("text").contains(path), "it names what was made: {again}");
        let listed = app.get("/v1/tokens").token(&app.keeper).send().await.expect(200).json();
        let made = listed["items"].as_array().expect("items").iter().filter(|item| item["name"] == "x").count();
        assert_eq!(made, 1);
    }
}

on_both! {
    async fn a_member_is_forgotten_and_what_was_seen_stays(app) {
        let path = format!("/v1/reports/{REPORT}");
        app.post("/v1/reports", &report(REPORT)).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
        let done = app.request(axum::http::Method::POST, "/v1/tokens/me/erasure").token(&app.member).send().await.expect(200);
        assert_eq!(done.header("cache-control"), "private, no-store");
        assert_eq!((&done.json()["reports"], &done.json()["answers"]), (&json!(1), &json!(1)));
        app.get(&path).token(&app.member).send().await.problem(401, "unauthenticated");
        let left = app.get(&path).token(&app.keeper).send().await.expect(200).json();
        assert_eq!((&left["note"], &left["sky"]), (&Value::Null, &Value::Null));
        assert_eq!(left["sightings"][0]["count"], 7);
        assert_eq!(left["reach"], "mill-meadow");
        let tokens = app.get("/v1/tokens").token(&app.keeper).send().await.expect(200).text();
        assert!(!tokens.contains("\"a member\"") && tokens.contains("\"another member\""), "{tokens}");
        let public = app.get("/v1/watersheds/ostrey/reports").send().await.expect(200).json();
        assert_eq!(public["items"].as_array().expect("items").len(), 1);
    }
}
