//! Forms asked for and forms sent; addresses with a slash too many.

use axum::http::Method;

use crate::documents::{KEY, report};
use crate::support::on_both;

const BROWSER: &str = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";

on_both! {
    async fn documents_are_refused_to_who_cannot_take_json(app) {
        for path in ["/v1/watersheds", "/v1/watersheds/ostrey/gauges", "/v1/taxa/ephemera-danica", "/v1/tokens"] {
            for asked in ["text/csv", "application/xml, text/html", "application/json;q=0, */*"] {
                let problem = app.get(path).token(&app.keeper).header("accept", asked).send().await.problem(406, "not-acceptable");
                assert!(problem["detail"].as_str().expect("text").contains("application/json"), "{problem}");
            }
            for asked in ["*/*", "application/json", "application/*;q=0.1", BROWSER] {
                app.get(path).token(&app.keeper).header("accept", asked).send().await.expect(200);
            }
        }
        // Calendars go by their address alone: some programs ask for anything but a calendar.
        app.get("/calendars/ostrey.ics").header("accept", "text/html").send().await.expect(200);
    }
}

on_both! {
    async fn nothing_is_stored_for_who_cannot_take_the_answer(app) {
        let id = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
        let send = |accept: &str| {
            app.post("/v1/reports", &report(id)).token(&app.member).header("idempotency-key", KEY).header("accept", accept).send()
        };
        send("text/csv").await.problem(406, "not-acceptable");
        app.get(&format!("/v1/reports/{id}")).token(&app.member).send().await.problem(404, "not-found");
        send("application/json").await.expect(201);
    }
}

on_both! {
    async fn bodies_of_other_media_types_are_refused_on_every_route(app) {
        let reach = "/v1/watersheds/ostrey/reaches";
        for (method, path) in [
            (Method::POST, "/v1/reports"), (Method::POST, "/v1/taxa"), (Method::POST, "/v1/tokens"), (Method::POST, reach),
            (Method::POST, "/v1/watersheds/ostrey/fits"), (Method::PATCH, "/v1/watersheds/ostrey"),
        ] {
            for kind in ["text/plain", "application/xml", "application/x-www-form-urlencoded", "application/jsonp", ""] {
                let answer = app.request(method.clone(), path).token(&app.keeper).header("content-type", kind)
                    .header("idempotency-key", KEY).header("if-match", "*").raw("{}").send().await;
                assert!(answer.header("accept").starts_with("application/json"), "{path}");
                answer.problem(415, "unsupported-media-type");
            }
        }
        // A merge patch is a change, never a new thing; compressed bodies are not unpacked.
        let merge = |method: Method, path: &str| {
            app.request(method, path).token(&app.keeper).header("content-type", "application/merge-patch+json")
        };
        merge(Method::POST, "/v1/taxa").raw("{}").send().await.problem(415, "unsupported-media-type");
        merge(Method::PATCH, "/v1/watersheds/ostrey").header("if-match", "*").raw("{\"name\":\"Ostrey\"}").send().await.expect(200);
        app.post("/v1/taxa", &serde_json::json!({})).token(&app.keeper).header("content-encoding", "gzip").send().await
            .problem(415, "unsupported-media-type");
    }
}

on_both! {
    async fn readers_get_a_page_and_programs_a_document(app) {
        for path in ["/nowhere", "/w/nope", "/w/ostrey/reaches/nope", "/problems/nope"] {
            let page = app.get(path).header("accept", BROWSER).send().await.expect(404);
            assert_eq!(page.header("content-type"), "text/html; charset=utf-8", "{path}");
            assert_eq!(page.header("cache-control"), "no-store");
            let html = page.text();
            assert!(html.starts_with("<!DOCTYPE html>") && html.contains("Nothing here") && html.contains("href=\"/\""), "{html}");
            assert!(html.contains(page.header("x-request-id")));
            for accept in ["*/*", "application/json", "application/problem+json, text/html;q=0.9"] {
                app.get(path).header("accept", accept).send().await.problem(404, "not-found");
            }
        }
        for path in ["/v1/watersheds/nope", "/v1/nope", "/v1", "/calendars/nope.ics"] {
            app.get(path).header("accept", BROWSER).send().await.problem(404, "not-found");
        }
    }
}

on_both! {
    async fn a_slash_too_many_leads_to_the_page(app) {
        for (path, target) in [
            ("/w/ostrey/", "/w/ostrey"), ("/about/?x=1", "/about?x=1"), ("/w/ostrey/reaches/mill-meadow//", "/w/ostrey/reaches/mill-meadow"),
            ("//elsewhere.test/", "/elsewhere.test"), ("/\\elsewhere.test/", "/elsewhere.test"),
        ] {
            let answer = app.get(path).send().await.expect(308);
            assert_eq!(answer.header("location"), target);
        }
        app.get("/").send().await.expect(200);
        app.request(Method::POST, "/w/ostrey/").send().await.problem(404, "not-found");
        app.get("/v1/watersheds/").send().await.problem(404, "not-found");
    }
}
