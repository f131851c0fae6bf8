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
        assert_eq!(links.contains("rel=\"prev\""), list["prev"].is_string());
    }
    seen
}

/// The addresses of the pages from `first` to the end, and what each shows.
async fn pages(app: &TestApp, first: &str, way: &str) -> Vec<(String, serde_json::Value)> {
    let (mut next, mut seen) = (Some(first.to_owned()), Vec::new());
    while let Some(path) = next {
        let list = app.get(&path).send().await.expect(200).json();
        next = list[way].as_str().map(|url| url.strip_prefix("http://water.test").expect("ours").to_owned());
        seen.push((path, list["items"].clone()));
        assert!(seen.len() < 40, "the way ends");
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

on_both! {
    async fn the_way_back_shows_the_same_pages(app) {
        for n in 0..7 {
            let mut body = report(&format!("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e1{n}"));
            // Two visits of one hour: the id decides between them.
            body["started_at"] = json!(format!("2026-05-1{}T18:00:00Z", n / 2));
            body["ended_at"] = json!(format!("2026-05-1{}T19:00:00Z", n / 2));
            app.post("/v1/reports", &body).token(&app.member).header("idempotency-key", format!("key-number-{n:08}"))
                .send().await.expect(201);
        }
        for first in ["/v1/watersheds/ostrey/reports?limit=2", "/v1/watersheds/ostrey/reports?limit=3", "/v1/taxa?limit=1", "/v1/taxa?limit=2"] {
            let forth = pages(&app, first, "next").await;
            assert!(forth.len() > 1, "{first}");
            let back = pages(&app, &forth.last().expect("pages").0, "prev").await;
            let shown = |pages: &[(String, serde_json::Value)]| pages.iter().map(|(_, items)| items.clone()).collect::<Vec<_>>();
            let mut returned = shown(&back);
            returned.reverse();
            assert_eq!(returned, shown(&forth), "{first}");
            // The first page has nothing before it and leads on again.
            let (path, _) = back.last().expect("pages");
            assert_eq!(pages(&app, path, "next").await.len(), forth.len());
        }
    }
}

on_both! {
    async fn what_comes_or_goes_before_a_page_does_not_move_it(app) {
        let taxon = |slug: &str| json!({ "slug": slug, "scientific_name": "Nova nova", "rank": "species" });
        let second = app.get("/v1/taxa?limit=1").send().await.json()["next"].as_str().expect("more").to_owned();
        let second = second.strip_prefix("http://water.test").expect("ours").to_owned();
        let third = app.get(&second).send().await.json()["next"].as_str().expect("more").to_owned();
        let third = third.strip_prefix("http://water.test").expect("ours").to_owned();
        app.post("/v1/taxa", &taxon("ecdyonurus")).token(&app.keeper).send().await.expect(201);
        app.post("/v1/taxa", &taxon("aaa")).token(&app.keeper).send().await.expect(201);
        assert_eq!(app.get(&second).send().await.json()["items"][0]["slug"], "ecdyonurus");
        let back = pages(&app, &third, "prev").await;
        let slugs: Vec<&str> = back.iter().filter_map(|(_, items)| items[0]["slug"].as_str()).collect();
        assert_eq!(slugs, ["serratella-ignita", "ephemera-danica", "ecdyonurus", "baetis-rhodani", "aaa"]);
    }
}

on_both! {
    async fn pages_of_readings_hold_what_the_whole_list_holds_in_both_directions(app) {
        let path = "/v1/watersheds/ostrey/gauges/bridge/readings";
        // Quarter hours on days far from each other, one of them read by hand; some are changed later.
        let mut sent = Vec::new();
        for (day, count) in [("2025-11-03", 3), ("2026-01-20", 5), ("2026-03-29", 7), ("2026-05-02", 4)] {
            for quarter in 0..count {
                sent.push(json!({ "at": format!("{day}T{:02}:{:02}:00Z", 10 + quarter / 4, 15 * (quarter % 4)), "value_c": 9.5 }));
            }
        }
        sent.push(json!({ "date": "2026-01-21", "tmean_c": 4.25 }));
        app.post(path, &json!({ "readings": sent })).token(&app.keeper).send().await.expect(200);
        let changed: Vec<_> = sent[2..9].iter().map(|one| json!({ "at": one["at"], "value_c": 8.0 })).collect();
        app.post(path, &json!({ "readings": changed })).token(&app.keeper).send().await.expect(200);
        for step in ["instant", "day"] {
            let span = format!("{path}?from=2025-11-01&to=2026-05-02&step={step}");
            let whole = app.get(&format!("{span}&limit=500")).send().await.expect(200).json();
            let all = whole["items"].as_array().expect("items").clone();
            assert!(all.len() >= 5 && whole["next"].is_null(), "{step}: {}", all.len());
            for limit in [1, 2, 3] {
                let there = pages(&app, &format!("{span}&limit={limit}"), "next").await;
                let joined: Vec<_> = there.iter().flat_map(|(_, items)| items.as_array().expect("items").clone()).collect();
                assert_eq!(joined, all, "{step}, {limit} a page");
                let (last, _) = there.last().expect("a page");
                let mut back = pages(&app, last, "prev").await;
                back.reverse();
                let joined: Vec<_> = back.iter().flat_map(|(_, items)| items.as_array().expect("items").clone()).collect();
                assert_eq!(joined, all, "{step}, {limit} a page, backwards");
            }
        }
    }
}
