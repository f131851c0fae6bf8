//! Lists as tables and maps: by address or by Accept, and never more than their JSON says.

use serde_json::{Value, json};

use crate::documents::{KEY, report};
use crate::support::{TestApp, on_both};

const CSV: &str = "text/csv; charset=utf-8; header=present";
const ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";

async fn rows(app: &TestApp, path: &str) -> Vec<Vec<String>> {
    let answer = app.get(path).send().await.expect(200);
    assert_eq!(answer.header("content-type"), CSV, "{path}");
    let text = answer.text();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    reader.records().map(|row| row.expect("a row").iter().map(str::to_owned).collect()).collect()
}

async fn file(app: &TestApp, body: &Value, key: &str) {
    app.post("/v1/reports", body).token(&app.member).header("idempotency-key", key).send().await.expect(201);
}

async fn water(app: &TestApp) {
    let readings: Vec<Value> =
        (1..=5).map(|day| json!({ "date": format!("2026-05-0{day}"), "tmean_c": -0.25 * f64::from(day) })).collect();
    app.post("/v1/watersheds/ostrey/gauges/bridge/readings", &json!({ "readings": readings }))
        .token(&app.keeper)
        .send()
        .await
        .expect(200);
}

on_both! {
    async fn addresses_and_accept_give_the_same_table(app) {
        water(&app).await;
        file(&app, &report(ID), KEY).await;
        for (path, end, kind) in [
            ("/v1/watersheds/ostrey/forecasts", ".csv", CSV),
            ("/v1/watersheds/ostrey/reports", ".csv", CSV),
            ("/v1/watersheds/ostrey/gauges/bridge/readings", ".csv", CSV),
            ("/v1/watersheds/ostrey/reaches", ".geojson", "application/geo+json"),
        ] {
            let media = kind.split(';').next().expect("a type");
            let named = app.get(&format!("{path}{end}")).header("accept", "image/png").send().await.expect(200);
            let asked = app.get(path).header("accept", format!("{media}, application/json;q=0.9")).send().await.expect(200);
            assert_eq!((named.header("content-type"), asked.header("content-type")), (kind, kind));
            assert_eq!(named.text(), asked.text(), "{path}");
            assert!(asked.header("vary").contains("accept,"), "a cache must tell the forms apart");
            let plain = app.get(path).send().await.expect(200);
            assert_eq!(plain.header("content-type"), "application/json");
            let json = app.get(&format!("{path}.json")).header("accept", "text/csv").send().await.expect(200);
            assert_eq!(json.header("content-type"), "application/json", "the address says it all");
            assert_eq!(json.json()["items"], plain.json()["items"], "{path}");
            assert!(!json.header("vary").contains("accept,"));
            assert!(plain.header("vary").contains("accept,") && plain.header("etag") != asked.header("etag"));
            app.get(&format!("{path}{end}")).header("if-none-match", named.header("etag")).send().await.expect(304);
            let problem = app.get(path).header("accept", "image/png").send().await.problem(406, "not-acceptable");
            let detail = problem["detail"].as_str().expect("text");
            assert!(detail.contains("application/json") && detail.contains(media), "{detail}");
            app.get(&format!("{path}{end}?surprise=1")).send().await.problem(400, "bad-query");
        }
        let page = app.get("/v1/watersheds/ostrey/reaches.json?limit=1").send().await.expect(200).json();
        assert!(page["next"].as_str().expect("a next page").contains("/reaches.json?limit=1&cursor="), "{page}");
        app.get("/v1/watersheds/nope/reports.csv").send().await.problem(404, "not-found");
    }
}

on_both! {
    async fn forecasts_are_a_row_for_each_day_of_the_json(app) {
        let list = app.get("/v1/watersheds/ostrey/forecasts?days=3").send().await.expect(200).json();
        let table = rows(&app, "/v1/watersheds/ostrey/forecasts.csv?days=3").await;
        let mut expected = Vec::new();
        for forecast in list["items"].as_array().expect("items") {
            for day in forecast["days"].as_array().expect("days") {
                let text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
                let chances = &day["class_probabilities"];
                expected.push(
                    [&forecast["watershed"], &forecast["reach"], &forecast["taxon"], &forecast["brood"], &forecast["season"],
                        &day["date"], &day["share"], &day["cumulative"], &chances["none"], &chances["sparse"],
                        &chances["moderate"], &chances["heavy"], &day["basis"], &day["water_c"]["p10"], &day["water_c"]["p50"],
                        &day["water_c"]["p90"], &forecast["data_as_of"], &forecast["stale"], &forecast["fit"]["prior_driven"]]
                        .map(text).to_vec(),
                );
            }
        }
        assert_eq!(expected.len(), 18);
        assert_eq!(table[0].len(), 19);
        // JSON writes small numbers with an exponent and tables do not: they are compared as numbers.
        for (row, wanted) in table[1..].iter().zip(&expected) {
            for (cell, wanted) in row.iter().zip(wanted) {
                match (cell.parse::<f64>(), wanted.parse::<f64>()) {
                    (Ok(cell), Ok(wanted)) => assert_eq!(cell, wanted),
                    _ => assert_eq!(cell, wanted),
                }
            }
        }
        assert_eq!(table.len(), 19);
    }
}

on_both! {
    async fn reports_show_what_everyone_may_see_and_blanks_too(app) {
        file(&app, &report(ID), KEY).await;
        let mut blank = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e11");
        blank["sightings"] = json!([]);
        blank["started_at"] = json!("2026-05-18T18:00:00Z");
        blank["ended_at"] = json!("2026-05-18T19:00:00Z");
        file(&app, &blank, "0123456789abcdeg").await;
        let table = rows(&app, "/v1/watersheds/ostrey/reports.csv").await;
        assert_eq!(table, [
            vec!["id", "watershed", "reach", "date", "taxon", "stage", "abundance_class"],
            vec![ID, "ostrey", "mill-meadow", "2026-05-19", "ephemera-danica", "dun", "moderate"],
            vec!["018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e11", "ostrey", "mill-meadow", "2026-05-18", "", "", ""],
        ]);
        let first = app.get("/v1/watersheds/ostrey/reports.csv?limit=1").send().await.expect(200);
        assert!(first.header("link").contains("/v1/watersheds/ostrey/reports.csv?limit=1&cursor="), "the next page keeps the form");
    }
}

on_both! {
    async fn readings_are_in_the_form_of_imports_and_page_by_page(app) {
        water(&app).await;
        let path = "/v1/watersheds/ostrey/gauges/bridge/readings.csv?from=2026-05-01";
        let whole = rows(&app, path).await;
        assert_eq!(whole[0], ["site", "date", "tmean_c", "tmin_c", "tmax_c", "flag", "known_at"]);
        assert_eq!(whole[1], ["bridge", "2026-05-01", "-0.25", "-0.25", "-0.25", "", "2026-05-20T12:00:00Z"]);
        assert_eq!(whole.len(), 6);
        let mut next = Some(format!("{path}&limit=2"));
        let mut walked = vec![whole[0].clone()];
        while let Some(address) = next {
            walked.extend(rows(&app, &address).await.into_iter().skip(1));
            let answer = app.get(&address).send().await;
            let link = answer.header("link").split(", ").find(|link| link.ends_with("rel=\"next\"")).map(str::to_owned);
            next = link.map(|link| link[1..link.find('>').expect("an end")].trim_start_matches("http://water.test").to_owned());
        }
        assert_eq!(walked, whole);
    }
}

on_both! {
    async fn reaches_are_points_with_longitude_first(app) {
        let map = app.get("/v1/watersheds/ostrey/reaches.geojson").send().await.expect(200).json();
        assert_eq!(map["type"], "FeatureCollection");
        let reach = &map["features"][1];
        assert_eq!((&reach["id"], &reach["geometry"]), (&json!("mill-meadow"), &json!({ "type": "Point", "coordinates": [-1.5, 51.5] })));
        assert_eq!(reach["properties"]["name"], "Mill Meadow");
        assert!(map.get("crs").is_none());
    }
}
