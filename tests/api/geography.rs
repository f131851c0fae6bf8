//! OGC API Features, Part 1 (OGC 17-069r4): the requirements of the classes Core and GeoJSON, read from memory.

use std::collections::BTreeSet;

use serde_json::{Value, json};

use crate::documents::{KEY, report};
use crate::support::{TestApp, date, now, on_both, slug};
use subimago::domain::record::Weather;
use subimago::domain::{Reach, Record, RecordKind};
use subimago::store::{place, record};

const ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
const TRUE_PLACE: (f64, f64) = (51.512_37, -1.523_64);

/// A reach with a place to hide, a report and a trap there.
async fn fill(app: &TestApp) {
    let mut tx = app.service.db().write().await.expect("writes");
    let reach = Reach {
        slug: slug("sluice"),
        name: "Sluice".to_owned(),
        latitude: TRUE_PLACE.0,
        longitude: TRUE_PLACE.1,
        elevation_m: None,
        water_type: None,
        gauges: Vec::new(),
    };
    place::upsert_reach(&mut tx, &slug("ostrey"), &reach).await.expect("stores");
    let trap = Record {
        reach: slug("sluice"),
        taxon: slug("baetis-rhodani"),
        brood: None,
        kind: RecordKind::Trap,
        date_from: Some(date(2026, 5, 1)),
        date_to: date(2026, 5, 8),
        count: Some(0),
        abundance_class: None,
        effort: 1.0,
        hours: None,
        stage: None,
        weather: Weather::default(),
        external_id: None,
        known_at: now(),
        known_assumed: true,
        source: "file:a.csv".to_owned(),
        doubts: Vec::new(),
        exposure_known: true,
    };
    record::put_records(&mut tx, &slug("ostrey"), &[trap], now()).await.expect("stores");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
    let mut body = report(ID);
    body["reach"] = json!("sluice");
    app.post("/v1/reports", &body).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
}

async fn items(app: &TestApp, query: &str) -> Value {
    let answer = app.get(&format!("/ogc/collections/observations/items{query}")).send().await.expect(200);
    assert_eq!(answer.header("content-type"), "application/geo+json");
    let body = answer.json();
    assert_eq!(body["numberReturned"], body["features"].as_array().expect("features").len());
    body
}

async fn taxa(app: &TestApp, query: &str) -> BTreeSet<String> {
    let body = items(app, query).await;
    let features = body["features"].as_array().expect("features").clone();
    features.iter().map(|f| f["properties"]["taxon"].as_str().expect("text").to_owned()).collect()
}

on_both! {
    async fn every_way_on_leads_somewhere(app) {
        fill(&app).await;
        let mut open = vec!["/ogc".to_owned()];
        let mut seen = BTreeSet::new();
        while let Some(path) = open.pop() {
            if !seen.insert(path.clone()) {
                continue;
            }
            let answer = app.get(&path).send().await.expect(200);
            if !path.starts_with("/ogc") {
                continue;
            }
            let body = answer.json();
            let own = answer.header("content-type").to_owned();
            let mut lists = vec![body.clone()];
            lists.extend(body["collections"].as_array().into_iter().flatten().cloned());
            for link in lists.iter().flat_map(|one| one["links"].as_array().cloned().unwrap_or_default()) {
                let href = link["href"].as_str().expect("href").strip_prefix("http://water.test").expect("absolute").to_owned();
                if link["rel"] == "self" && href == path {
                    assert_eq!(link["type"], own.as_str(), "{path}");
                }
                open.push(href);
            }
            for feature in body["features"].as_array().into_iter().flatten() {
                open.push(format!("{}/{}", path.split('?').next().expect("a path"), feature["id"].as_str().expect("an id")));
            }
        }
        for needed in ["/ogc/conformance", "/ogc/collections", "/ogc/collections/reaches", "/ogc/collections/observations/items", "/openapi.json"] {
            assert!(seen.contains(needed), "{needed} in {seen:?}");
        }
        assert!(seen.iter().any(|path| path.contains("/observations/items/")), "single features are reached");
        let conforms = app.get("/ogc/conformance").send().await.json();
        assert!(conforms["conformsTo"].to_string().contains("ogcapi-features-1/1.0/conf/core"));
        let described = app.get("/ogc/collections/observations").send().await.json();
        assert_eq!(described["extent"]["temporal"]["interval"], json!([["2026-05-02T00:00:00Z", "2026-05-19T23:59:59Z"]]));
        assert_eq!(described["extent"]["spatial"]["bbox"], json!([[-1.525, 51.505, -1.495, 51.515]]));
        for missing in ["/ogc/collections/rivers", "/ogc/collections/rivers/items", "/ogc/collections/observations/items/x"] {
            app.get(missing).header("accept", "text/html").send().await.problem(404, "not-found");
        }
    }
}

on_both! {
    async fn observations_are_filtered_by_time_and_paged(app) {
        fill(&app).await;
        let all: BTreeSet<String> = ["baetis-rhodani", "ephemera-danica"].map(str::to_owned).into();
        assert_eq!(taxa(&app, "").await, all);
        let body = items(&app, "").await;
        assert_eq!((&body["numberMatched"], &body["timeStamp"]), (&json!(3), &json!("2026-05-20T12:00:00Z")));
        let trap = &body["features"][0]["properties"];
        assert_eq!((&trap["from"], &trap["date"], &trap["detected"]), (&json!("2026-05-02"), &json!("2026-05-08"), &json!(false)));
        for (query, count) in [
            ("?datetime=2026-05-05", 1), ("?datetime=2026-05-01", 0), ("?datetime=2026-05-09/..", 2), ("?datetime=../2026-05-02", 1),
            ("?datetime=2026-05-18T23:30:00Z", 2), ("?datetime=2026-05-18T22:30:00Z", 0), ("?limit=2", 2), ("?limit=100000", 3),
        ] {
            assert_eq!(items(&app, query).await["numberReturned"], count, "{query}");
        }
        let mut next = Some("?limit=1".to_owned());
        let mut walked = Vec::new();
        while let Some(query) = next {
            let body = items(&app, &query).await;
            walked.push(body["features"][0]["id"].clone());
            let links = body["links"].as_array().expect("links").clone();
            let link = links.iter().find(|link| link["rel"] == "next").and_then(|link| link["href"].as_str().map(str::to_owned));
            next = link.map(|href| href[href.find('?').expect("a query")..].to_owned());
        }
        assert_eq!(walked, body["features"].as_array().expect("features").iter().map(|f| f["id"].clone()).collect::<Vec<_>>());
        for wrong in ["?bbox=1,2,3", "?bbox=0,10,1,5", "?datetime=soon", "?limit=0", "?surprise=1", "?datetime=2026-05-02/2026-05-01"] {
            app.get(&format!("/ogc/collections/observations/items{wrong}")).send().await.problem(400, "bad-query");
        }
        // A refused report is gone at once.
        app.post(&format!("/v1/reports/{ID}/decision"), &json!({ "state": "rejected", "reason": "another river" })).token(&app.keeper).send().await.expect(200);
        assert_eq!(items(&app, "").await["numberMatched"], 1);
    }
}

on_both! {
    async fn no_box_finds_a_place_finer_than_the_grid(app) {
        fill(&app).await;
        let shown = items(&app, "").await["features"][0]["geometry"]["coordinates"].clone();
        assert_eq!(shown, json!([-1.525, 51.515]));
        // Halving boxes around the true place: it is never found unless the centre of its cell is in the box.
        let (mut found, mut width) = (0, 0.04);
        for _ in 0..50 {
            width *= 0.8;
            let (south, west) = (TRUE_PLACE.0 - width / 2.0, TRUE_PLACE.1 - width / 2.0);
            let (north, east) = (south + width, west + width);
            let holds_centre = (south..=north).contains(&51.515) && (west..=east).contains(&-1.525);
            for collection in ["observations", "reaches"] {
                let query = format!("/ogc/collections/{collection}/items?bbox={west},{south},{east},{north}");
                let matched = app.get(&query).send().await.expect(200).json()["numberMatched"].as_u64().expect("a number");
                assert_eq!(matched > 0, holds_centre, "{query}");
                found += matched;
            }
        }
        assert!(found > 0, "the first boxes hold the centre");
        // What is told of observations anywhere has no further digits, no hour, count, people or note.
        for path in ["/ogc/collections/observations/items", "/ogc/collections/reaches/items", "/ogc/collections", "/v1/watersheds/ostrey/reports.csv"] {
            let text = app.get(path).send().await.expect(200).text();
            for secret in ["51.512", "1.5236", "ash", "17:00", "18:00", "people", "count\""] {
                assert!(!text.contains(secret), "{path} tells {secret}");
            }
        }
        let seen = items(&app, "?datetime=2026-05-19").await;
        let classes: BTreeSet<&str> =
            seen["features"].as_array().expect("features").iter().filter_map(|f| f["properties"]["abundance_class"].as_str()).collect();
        assert_eq!(classes, BTreeSet::from(["moderate", "none"]), "what was looked for in vain is there too");
    }
}
