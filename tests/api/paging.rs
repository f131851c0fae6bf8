//! Walking through lists.

use serde_json::json;

use crate::documents::report;
use crate::support::{TestApp, on_both};

async fn walk(app: &TestApp, first: &str) -> Vec<String> {
    let (mut next, mut seen) = (Some(first.to_owned()), Vec::new());
    while let Some(path) = next {
        let answer = app.get(&path).send().await.expect(200);
        let list = answer.json();
        seen.extend(
            list["items"]
                .as_array()
                .expect("items")
                .iter()
                .map(|item| item["slug"].as_str().or(item["id"].as_str()).expect("a name").to_owned()),
        );
        next = list["next"].as_str().map(|url| url.strip_prefix("http://water.test").expect("ours").to_owned());
        let links = answer.header("link");
        assert!(links.contains("rel=\"first\"") && links.contains("rel=\"self\""), "{links}");
        assert_eq!(links.contains("rel=\"next\""), next.is_some());
    }
    seen
}

on_both! {
    async fn pages_follow_each_other_without_gap_or_repeat(app) {
        assert_eq!(walk(&app, "/v1/taxa?limit=1").await, ["baetis-rhodani", "ephemera-danica", "serratella-ignita"]);
        assert_eq!(walk(&app, "/v1/taxa?limit=2").await, ["baetis-rhodani", "ephemera-danica", "serratella-ignita"]);
        assert_eq!(walk(&app, "/v1/watersheds/ostrey/reaches?limit=1").await, ["alder-fold", "mill-meadow"]);
        assert_eq!(walk(&app, "/v1/watersheds?limit=1").await, ["elsewhere", "ostrey"]);
    }
}

on_both! {
    async fn reports_page_newest_first_while_others_come_and_go(app) {
        let ids: Vec<String> = (0..7).map(|n| format!("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e1{n}")).collect();
        for (n, id) in ids.iter().enumerate() {
            let mut body = report(id);
            body["started_at"] = json!(format!("2026-05-1{n}T18:00:00Z"));
            body["ended_at"] = json!(format!("2026-05-1{n}T19:00:00Z"));
            app.post("/v1/reports", &body).token(&app.member).header("idempotency-key", format!("key-number-{n:08}"))
                .send().await.expect(201);
        }
        let newest_first: Vec<String> = ids.iter().rev().cloned().collect();
        assert_eq!(walk(&app, "/v1/watersheds/ostrey/reports?limit=3").await, newest_first);
        // The last report of the first page is withdrawn before the second page is asked for.
        let first = app.get("/v1/watersheds/ostrey/reports?limit=3").send().await.expect(200).json();
        let path = format!("/v1/reports/{}", ids[4]);
        let held = app.get(&path).token(&app.member).send().await.expect(200).header("etag").to_owned();
        app.request(axum::http::Method::DELETE, &path).token(&app.member).header("if-match", held).send().await.expect(204);
        let next = first["next"].as_str().expect("more").strip_prefix("http://water.test").expect("ours").to_owned();
        assert_eq!(walk(&app, &next).await, newest_first[3..]);
        assert!(!next.contains("2026") && !next.contains("1779"), "the cursor tells no time: {next}");
    }
}

on_both! {
    async fn limits_are_cut_down_and_bad_cursors_refused(app) {
        app.get("/v1/taxa?limit=100000").send().await.expect(200);
        for limit in ["0", "-1", "x", "1.5"] {
            app.get(&format!("/v1/taxa?limit={limit}")).send().await.problem(400, "bad-query");
        }
        for cursor in ["", "x", "zz", "deadbeef", "\u{e9}"] {
            app.get(&format!("/v1/taxa?cursor={cursor}")).send().await.problem(400, "bad-query");
        }
        let readings = "/v1/watersheds/ostrey/gauges/bridge/readings";
        let body = json!({ "readings": [
            { "date": "2026-05-01", "tmean_c": 10 }, { "date": "2026-05-02", "tmean_c": 11 }, { "date": "2026-05-03", "tmean_c": 12 },
        ]});
        app.post(readings, &body).token(&app.keeper).send().await.expect(200);
        let page = app.get(&format!("{readings}?from=2026-05-01&limit=1")).send().await.expect(200).json();
        let next = page["next"].as_str().expect("more").strip_prefix("http://water.test").expect("ours").to_owned();
        assert_eq!(app.get(&next).send().await.expect(200).json()["items"][0]["date"], "2026-05-02");
        let other_filter = next.replace("from=2026-05-01", "from=2026-05-02");
        app.get(&other_filter).send().await.problem(400, "bad-query");
    }
}
