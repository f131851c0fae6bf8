//! Every operation with every kind of caller.

use std::collections::BTreeSet;

use axum::http::Method;
use serde_json::{Value, json};

use crate::documents::{KEY, report};
use crate::notices::notice;
use crate::support::{TestApp, on_both};

/// Statuses for no token, a member, the keeper, a keeper of another water.
type Row = (&'static str, &'static str, [u16; 4]);

const REPORT: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";

const OPEN: [u16; 4] = [200, 200, 200, 200];
const KEEPERS: [u16; 4] = [401, 403, 200, 403];

/// What each operation answers to a right request; 2xx is written 200. Operations change what
/// later ones see, so every caller meets a fresh service.
const TABLE: &[Row] = &[
    ("health", "GET /healthz", OPEN),
    ("ready", "GET /readyz", OPEN),
    ("calendar", "GET /calendars/ostrey.ics", OPEN),
    ("secretCalendar", "GET {calendar}", OPEN),
    ("news", "GET /feeds/ostrey.atom", OPEN),
    ("secretNews", "GET {news}", OPEN),
    ("listNotices", "GET /v1/watersheds/ostrey/notices", OPEN),
    ("createNotice", "POST /v1/watersheds/ostrey/notices", KEEPERS),
    ("getNotice", "GET /v1/watersheds/ostrey/notices/{notice}", OPEN),
    ("changeNotice", "PATCH /v1/watersheds/ostrey/notices/{notice}", KEEPERS),
    ("withdrawNotice", "DELETE /v1/watersheds/ostrey/notices/{notice}", KEEPERS),
    ("getFeeds", "GET /v1/watersheds/ostrey/feeds", KEEPERS),
    ("createFeedAddress", "POST /v1/watersheds/ostrey/feeds/addresses", KEEPERS),
    ("revokeFeedAddress", "DELETE /v1/watersheds/ostrey/feeds/addresses/{address}", KEEPERS),
    ("changeFeeds", "PATCH /v1/watersheds/ostrey/feeds", KEEPERS),
    ("listWatersheds", "GET /v1/watersheds", OPEN),
    ("createWatershed", "POST /v1/watersheds", [401, 403, 200, 200]),
    ("getWatershed", "GET /v1/watersheds/ostrey", OPEN),
    ("changeWatershed", "PATCH /v1/watersheds/ostrey", KEEPERS),
    ("listReaches", "GET /v1/watersheds/ostrey/reaches", OPEN),
    ("createReach", "POST /v1/watersheds/ostrey/reaches", KEEPERS),
    ("getReach", "GET /v1/watersheds/ostrey/reaches/mill-meadow", OPEN),
    ("changeReach", "PATCH /v1/watersheds/ostrey/reaches/mill-meadow", KEEPERS),
    ("listGauges", "GET /v1/watersheds/ostrey/gauges", OPEN),
    ("createGauge", "POST /v1/watersheds/ostrey/gauges", KEEPERS),
    ("getGauge", "GET /v1/watersheds/ostrey/gauges/bridge", OPEN),
    ("changeGauge", "PATCH /v1/watersheds/ostrey/gauges/bridge", KEEPERS),
    ("listReadings", "GET /v1/watersheds/ostrey/gauges/bridge/readings", OPEN),
    ("addReadings", "POST /v1/watersheds/ostrey/gauges/bridge/readings", KEEPERS),
    // Its source is words, not a service.
    ("syncGauge", "POST /v1/watersheds/ostrey/gauges/bridge/sync", [401, 403, 409, 403]),
    ("listReadingsCsv", "GET /v1/watersheds/ostrey/gauges/bridge/readings.csv", OPEN),
    ("listReachesGeojson", "GET /v1/watersheds/ostrey/reaches.geojson", OPEN),
    ("listForecastsCsv", "GET /v1/watersheds/ostrey/forecasts.csv", OPEN),
    ("listReportsCsv", "GET /v1/watersheds/ostrey/reports.csv", OPEN),
    ("listReadingsJson", "GET /v1/watersheds/ostrey/gauges/bridge/readings.json", OPEN),
    ("listReachesJson", "GET /v1/watersheds/ostrey/reaches.json", OPEN),
    ("listForecastsJson", "GET /v1/watersheds/ostrey/forecasts.json", OPEN),
    ("listReportsJson", "GET /v1/watersheds/ostrey/reports.json", OPEN),
    ("ogcLanding", "GET /ogc", OPEN),
    ("ogcConformance", "GET /ogc/conformance", OPEN),
    ("ogcCollections", "GET /ogc/collections", OPEN),
    ("ogcCollection", "GET /ogc/collections/reaches", OPEN),
    ("ogcItems", "GET /ogc/collections/observations/items", OPEN),
    ("ogcItem", "GET /ogc/collections/reaches/items/ostrey:mill-meadow", OPEN),
    ("listResidents", "GET /v1/watersheds/ostrey/taxa", OPEN),
    ("addResident", "POST /v1/watersheds/ostrey/taxa", KEEPERS),
    ("listTaxa", "GET /v1/taxa", OPEN),
    ("createTaxon", "POST /v1/taxa", [401, 403, 200, 200]),
    ("getTaxon", "GET /v1/taxa/ephemera-danica", OPEN),
    ("changeTaxon", "PATCH /v1/taxa/ephemera-danica", KEEPERS),
    ("listForecasts", "GET /v1/watersheds/ostrey/forecasts", OPEN),
    ("getGuidance", "GET /v1/watersheds/ostrey/reaches/mill-meadow/guidance", OPEN),
    ("whatWasSeen", "GET /v1/watersheds/ostrey/reaches/mill-meadow/seen", OPEN),
    ("listFits", "GET /v1/watersheds/ostrey/fits", OPEN),
    ("getSkill", "GET /v1/watersheds/ostrey/skill", OPEN),
    ("getSeasonReview", "GET /v1/watersheds/ostrey/season-review", OPEN),
    ("getVisitPlan", "GET /v1/watersheds/ostrey/visit-plan", [503; 4]),
    ("requestFit", "POST /v1/watersheds/ostrey/fits", KEEPERS),
    ("createImport", "POST /v1/imports?watershed=ostrey&kind=records", KEEPERS),
    ("getImport", "GET /v1/imports/{import}", [401, 403, 200, 404]),
    ("cancelImport", "DELETE /v1/imports/{import}", [401, 403, 200, 404]),
    ("getJob", "GET /v1/jobs/{job}", [401, 403, 200, 404]),
    ("listReports", "GET /v1/watersheds/ostrey/reports", OPEN),
    ("fileReport", "POST /v1/reports", [401, 200, 200, 403]),
    ("listOwnReports", "GET /v1/reports", [401, 200, 200, 200]),
    ("getReport", "GET /v1/reports/{report}", [401, 200, 200, 404]),
    ("changeReport", "PATCH /v1/reports/{report}", [401, 200, 200, 404]),
    ("putPhoto", "PUT /v1/reports/{report}/photo", [401, 200, 403, 404]),
    ("removePhoto", "DELETE /v1/reports/{report}/photo", [401, 200, 200, 404]),
    ("decideReport", "POST /v1/reports/{report}/decision", [401, 403, 200, 404]),
    ("listModeration", "GET /v1/watersheds/ostrey/moderation", KEEPERS),
    ("getModeration", "GET /v1/reports/{report}/moderation", [401, 403, 200, 404]),
    ("takeDecisionBack", "DELETE /v1/reports/{report}/decision", [401, 403, 200, 404]),
    ("withdrawReport", "DELETE /v1/reports/{report}", [401, 200, 200, 404]),
    ("listTokens", "GET /v1/tokens", [401, 403, 200, 200]),
    ("createToken", "POST /v1/tokens", [401, 403, 200, 422]),
    ("getToken", "GET /v1/tokens/{token}", [401, 403, 200, 404]),
    ("revokeToken", "DELETE /v1/tokens/{token}", [401, 403, 200, 404]),
    ("listJoinCodes", "GET /v1/watersheds/ostrey/join-codes", KEEPERS),
    ("createJoinCode", "POST /v1/watersheds/ostrey/join-codes", KEEPERS),
    ("join", "POST /v1/join", OPEN),
    ("revokeJoinCode", "DELETE /v1/watersheds/ostrey/join-codes/{code}", KEEPERS),
    ("eraseToken", "POST /v1/tokens/{token}/erasure", [401, 404, 200, 404]),
];

fn body(operation: &str) -> Option<Value> {
    Some(match operation {
        "createWatershed" => json!({ "slug": "new", "name": "New", "time_zone": "Europe/London" }),
        "createReach" => json!({ "slug": "new", "name": "New", "latitude": 51, "longitude": -1 }),
        "createGauge" => json!({ "slug": "new", "name": "New" }),
        "createTaxon" => json!({ "slug": "new", "scientific_name": "Nova nova", "rank": "species" }),
        "addResident" => json!({ "taxon": "ephemera-danica" }),
        "addReadings" => json!({ "readings": [{ "date": "2026-05-01", "tmean_c": 10 }] }),
        "requestFit" => json!({}),
        "createNotice" => notice(),
        "changeNotice" => json!({ "text": "Changed." }),
        "createJoinCode" => json!({ "name": "Autumn meeting" }),
        "createFeedAddress" => json!({ "name": "Committee" }),
        "changeFeeds" => json!({ "private": true }),
        "changeWatershed" | "changeReach" | "changeGauge" => json!({ "name": "Renamed" }),
        "changeTaxon" => json!({ "base_temp_c": 3 }),
        "fileReport" => report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e11"),
        "changeReport" => json!({ "people": 4 }),
        "decideReport" => json!({ "state": "rejected", "reason": "another river" }),
        "createToken" => json!({ "name": "x", "role": "member", "watersheds": ["ostrey"] }),
        _ => return None,
    })
}

#[test]
fn the_table_names_every_operation() {
    let document: Value = serde_json::from_str(&subimago::http::openapi_text().expect("a document")).expect("JSON");
    let known: BTreeSet<&str> = document["paths"]
        .as_object()
        .expect("paths")
        .values()
        .flat_map(|item| item.as_object().expect("an item").values())
        .filter_map(|operation| operation["operationId"].as_str())
        .collect();
    let listed: BTreeSet<&str> = TABLE.iter().map(|row| row.0).collect();
    assert_eq!(known, listed);
}

/// Places that the paths of the table speak of.
async fn prepare(app: &TestApp) -> [(&'static str, String); 10] {
    app.post("/v1/reports", &report(REPORT)).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
    let job = app.post("/v1/watersheds/ostrey/fits", &json!({})).token(&app.keeper).send().await.expect(202).json();
    let wish = json!({ "name": "y", "role": "member", "watersheds": ["ostrey"] });
    let token = app.post("/v1/tokens", &wish).token(&app.keeper).send().await.expect(201).json();
    let told = app.post("/v1/watersheds/ostrey/notices", &notice()).token(&app.keeper).send().await.expect(201).json();
    let wish = json!({ "name": "Committee" });
    let address = app.post("/v1/watersheds/ostrey/feeds/addresses", &wish).token(&app.keeper).send().await;
    let address = address.expect(201).json();
    let table = app.request(Method::POST, "/v1/imports?watershed=ostrey&kind=records").token(&app.keeper);
    let import = table.header("content-type", "text/csv").raw("site\n").send().await.expect(202).json();
    let wish = json!({ "name": "Spring meeting" });
    let code = app.post("/v1/watersheds/ostrey/join-codes", &wish).token(&app.keeper).send().await.expect(201).json();
    let member = |value: &Value, name: &str| value[name].as_str().expect("a text").to_owned();
    [
        ("{report}", REPORT.to_owned()),
        ("{job}", member(&job, "id")),
        ("{token}", member(&token, "id")),
        ("{import}", member(&import, "id")),
        ("{notice}", member(&told, "id")),
        ("{address}", member(&address, "id")),
        ("{calendar}", member(&address, "calendar")),
        ("{news}", member(&address, "news")),
        ("{code}", member(&code, "id")),
        ("{join}", member(&code, "code")),
    ]
}

async fn run(app: TestApp, caller: usize) {
    let places = prepare(&app).await;
    let secret = [None, Some(&app.member), Some(&app.keeper), Some(&app.stranger)][caller].cloned();
    let mut wrong = Vec::new();
    for (operation, line, expected) in TABLE {
        let (method, path) = line.split_once(' ').expect("a method and a path");
        let mut path = path.to_owned();
        for (name, value) in &places {
            path = path.replace(name, value);
        }
        // The tag is read by the keeper, so that only the caller's right decides.
        let held = if ["PATCH", "DELETE"].contains(&method) && *operation != "revokeToken" {
            let read = app.get(path.trim_end_matches("/decision")).token(&app.keeper).send().await;
            read.headers.get("etag").map(|tag| tag.to_str().expect("ASCII").to_owned())
        } else {
            None
        };
        let mut request = app.request(method.parse::<Method>().expect("a method"), &path);
        if let Some(secret) = &secret {
            request = request.token(secret);
        }
        if *operation == "createImport" {
            request = request.header("content-type", "text/csv").raw("site,date_from,date_to,taxon,count\n");
        }
        if *operation == "putPhoto" {
            request = request.header("content-type", "image/jpeg").raw(crate::photos::picture(40, 30));
        }
        if *operation == "join" {
            let code = &places.iter().find(|(name, _)| *name == "{join}").expect("a code").1;
            request =
                request.json(&json!({ "id": "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e99", "code": code, "name": "Robin" }));
        }
        if let Some(body) = body(operation) {
            request = request.json(&body);
        }
        if let Some(tag) = held {
            request = request.header("if-match", tag);
        }
        let answer = request.header("idempotency-key", "scope-table-key-1").send().await;
        let status = answer.status.as_u16();
        let ok = if expected[caller] == 200 { answer.status.is_success() } else { status == expected[caller] };
        if !ok {
            wrong.push(format!("{operation}: {status}, not {}: {}", expected[caller], answer.text()));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

on_both! { async fn without_a_token(app) { run(app, 0).await; } }
on_both! { async fn as_a_member(app) { run(app, 1).await; } }
on_both! { async fn as_the_keeper(app) { run(app, 2).await; } }
on_both! { async fn as_a_keeper_of_another_water(app) { run(app, 3).await; } }
