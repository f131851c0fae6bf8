//! Faults speak to who sent the document, not to who wrote the program.

use std::collections::BTreeSet;

use axum::http::Method;
use serde_json::{Value, json};

use crate::documents::report;
use crate::support::{TestApp, on_both};

/// Words of libraries and of the programming language.
const FOREIGN: [&str; 16] = [
    "expected",
    "invalid type",
    "invalid value",
    "parsing",
    "f64",
    "u32",
    "i64",
    "usize",
    "struct",
    "sequence",
    "serde",
    "premature",
    "integer `",
    "greater than",
    "lower than",
    "formatted",
];

/// A whole document of every kind that is taken, by its address.
fn documents() -> Vec<(Method, &'static str, Value)> {
    let mut visit = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
    visit["sightings"] = json!([
        { "taxon": "ephemera-danica", "stage": "dun", "abundance_class": "moderate", "count": 7, "behaviour": "x" },
        { "described": { "length_mm": 6, "colour": "olive" }, "stage": "nymph", "wing_pads": "dark" },
    ]);
    let taxon = json!({
        "slug": "new", "scientific_name": "Nova nova", "rank": "species", "base_temp_c": 1, "peak_hour": 2, "hook_large": 10,
        "hook_small": 12, "note": "x", "tails": [2], "body_colours": ["olive"],
        "names": [{ "language": "en", "name": "x", "provenance": "x" }], "broods": [{ "median_day_of_year": 120, "sd_days": 9, "provenance": "x" }],
    });
    vec![
        (Method::POST, "/v1/reports", visit),
        (Method::POST, "/v1/taxa", taxon.clone()),
        (Method::PATCH, "/v1/taxa/ephemera-danica", taxon),
        (Method::POST, "/v1/tokens", json!({ "name": "x", "role": "member", "watersheds": ["ostrey"], "days": 3 })),
        (Method::POST, "/v1/watersheds", json!({ "slug": "new", "name": "New", "time_zone": "Europe/London" })),
        (
            Method::POST,
            "/v1/watersheds/ostrey/reaches",
            json!({
                "slug": "new", "name": "New", "latitude": 51, "longitude": -1, "elevation_m": 3, "gauges": ["bridge"],
            }),
        ),
        (
            Method::POST,
            "/v1/watersheds/ostrey/gauges",
            json!({ "slug": "n", "name": "N", "latitude": 51, "source": "x" }),
        ),
        (
            Method::POST,
            "/v1/watersheds/ostrey/gauges/bridge/readings",
            json!({ "readings": [
                { "date": "2026-05-01", "tmean_c": 10, "flag": "good" }, { "at": "2026-05-01T10:00:00Z", "value_c": 10 },
            ]}),
        ),
        (Method::POST, "/v1/watersheds/ostrey/notices", crate::notices::notice()),
        (Method::POST, "/v1/watersheds/ostrey/feeds/addresses", json!({ "name": "x" })),
        (Method::PATCH, "/v1/watersheds/ostrey/feeds", json!({ "private": true })),
        (Method::POST, "/v1/watersheds/ostrey/fits", json!({ "taxon": "ephemera-danica" })),
        (Method::POST, "/v1/watersheds/ostrey/taxa", json!({ "taxon": "ephemera-danica" })),
    ]
}

/// Every place in `value`, outermost first.
fn places(value: &Value, at: &str) -> Vec<String> {
    let inner: Vec<(String, &Value)> = match value {
        Value::Object(map) => map.iter().map(|(name, inner)| (format!("{at}/{name}"), inner)).collect(),
        Value::Array(items) => {
            items.iter().enumerate().map(|(index, inner)| (format!("{at}/{index}"), inner)).collect()
        }
        _ => Vec::new(),
    };
    inner.iter().flat_map(|(place, inner)| std::iter::once(place.clone()).chain(places(inner, place))).collect()
}

async fn details(app: &TestApp, method: &Method, path: &str, body: &Value) -> Vec<(String, String)> {
    let answer = app
        .request(method.clone(), path)
        .json(body)
        .token(&app.keeper)
        .header("idempotency-key", uuid::Uuid::new_v4().to_string())
        .header("if-match", "*")
        .send()
        .await;
    if answer.status.is_success() || answer.status == 409 {
        return Vec::new();
    }
    let problem = answer.problem(422, "invalid-document");
    let text = |value: &Value| value.as_str().expect("text").to_owned();
    problem["errors"].as_array().expect("errors").iter().map(|e| (text(&e["pointer"]), text(&e["detail"]))).collect()
}

on_both! {
    async fn wrong_types_are_told_in_plain_words_at_their_place(app) {
        let wrong = [json!(true), json!(-7), json!(1.5), json!("\u{7}?"), json!([]), json!({}), json!([[1]]), json!(1e300)];
        let (mut told, mut faults) = (BTreeSet::new(), 0);
        for (method, path, whole) in documents() {
            for place in places(&whole, "") {
                for value in &wrong {
                    let mut body = whole.clone();
                    *body.pointer_mut(&place).expect("a place") = value.clone();
                    for (pointer, detail) in details(&app, &method, path, &body).await {
                        faults += 1;
                        assert!(pointer.starts_with('#'), "{pointer}");
                        for word in FOREIGN {
                            assert!(!detail.contains(word), "{path} {place} = {value}: {pointer} {detail}");
                        }
                        told.insert(detail);
                    }
                }
            }
        }
        assert!(faults > 200, "{faults}");
        assert!(!told.contains("has a form that is not read here"), "every kind of value has its words: {told:?}");
        assert!(told.contains("must be a number") && told.contains("must be text") && told.contains("must be a list"), "{told:?}");
    }
}

on_both! {
    async fn the_common_slips_name_what_is_wanted(app) {
        let mut body = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
        body["id"] = json!("the-first");
        body["water_c"] = json!("12,5");
        body["people"] = json!(0);
        let found = details(&app, &Method::POST, "/v1/reports", &body).await;
        let at = |pointer: &str| found.iter().find(|(p, _)| p == pointer).map(|(_, detail)| detail.clone());
        assert_eq!(at("#/id").as_deref(), Some("must be a UUID such as 018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10"));
        assert_eq!(at("#/water_c").as_deref(), Some("must be a number"));
        assert_eq!(at("#/people").as_deref(), Some("must be at least 1"));
    }
}
