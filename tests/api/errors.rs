//! Every way to fail ends in a problem document with the headers its status asks for.

use axum::http::Method;
use serde_json::json;

use crate::documents::{KEY, report};
use crate::support::{on_both, pointers};

on_both! {
    async fn unknown_addresses_methods_and_names(app) {
        app.get("/nowhere").send().await.problem(404, "not-found");
        app.get("/v1/watersheds/nope").send().await.problem(404, "not-found");
        app.get("/v1/watersheds/not%20a%20slug").send().await.problem(404, "not-found");
        app.get("/v1/watersheds/ostrey/reaches/nope").send().await.problem(404, "not-found");
        app.get("/w/nope").send().await.problem(404, "not-found");
        app.get("/calendars/nope.ics").send().await.problem(404, "not-found");
        app.get("/calendars/ostrey").send().await.problem(404, "not-found");
        app.get("/problems/nope").send().await.problem(404, "not-found");
        let answer = app.request(Method::PUT, "/v1/taxa").send().await;
        assert_eq!(answer.header("allow"), "GET,HEAD,POST");
        answer.problem(405, "method-not-allowed");
        app.request(Method::POST, "/calendars/ostrey.ics").send().await.problem(405, "method-not-allowed");
        app.request(Method::DELETE, "/w/ostrey").send().await.problem(405, "method-not-allowed");
    }
}

on_both! {
    async fn unknown_repeated_and_wrong_parameters_all_at_once(app) {
        let path = "/v1/watersheds/ostrey/forecasts?dys=3&days=0&from=2026-5-1&season=2026&season=2027&as_of=x&reach=a%20b";
        let problem = app.get(path).send().await.problem(400, "bad-query");
        let mut names: Vec<&str> =
            problem["errors"].as_array().expect("errors").iter().filter_map(|e| e["parameter"].as_str()).collect();
        names.sort_unstable();
        assert_eq!(names, ["as_of", "days", "dys", "from", "reach", "season"]);
        for path in ["/healthz", "/v1/taxa/ephemera-danica", "/calendars/ostrey.ics"] {
            app.get(&format!("{path}?surprise=1")).send().await.problem(400, "bad-query");
        }
        // Links to pages gather parameters on their way through mail and chat.
        for path in ["/", "/about", "/w/ostrey", "/w/ostrey/reaches/mill-meadow"] {
            app.get(&format!("{path}?utm_source=letter")).send().await.expect(200);
        }
        for days in ["371", "-1", "1.5", "1e2", "", "9999999999999999999999"] {
            app.get(&format!("/v1/watersheds/ostrey/forecasts?days={days}")).send().await.problem(400, "bad-query");
        }
    }
}

on_both! {
    async fn bodies_of_the_wrong_kind_or_size(app) {
        let send = |kind: &str, body: String| {
            app.request(Method::POST, "/v1/reports").token(&app.member).header("idempotency-key", KEY)
                .header("content-type", kind).raw(body).send()
        };
        let answer = send("text/plain", "{}".to_owned()).await;
        assert_eq!(answer.header("accept"), "application/json");
        answer.problem(415, "unsupported-media-type");
        send("application/json", format!("{{\"note\":\"{}\"}}", "x".repeat(1 << 20))).await.problem(413, "too-large");
        app.request(Method::POST, "/test/swallows").raw("x".repeat((1 << 20) + 1)).send().await.problem(413, "too-large");
    }
}

on_both! {
    async fn tokens_that_are_missing_or_wrong(app) {
        let body = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
        for secret in ["", "subimago_wrong", &app.member[..app.member.len() - 1], &format!("{}x", app.member)] {
            let answer = app.post("/v1/reports", &body).token(secret).header("idempotency-key", KEY).send().await;
            assert!(answer.header("www-authenticate").starts_with("Bearer"));
            answer.problem(401, "unauthenticated");
        }
        app.post("/v1/reports", &body).header("authorization", "Basic eDp5").send().await.problem(401, "unauthenticated");
        app.post("/v1/watersheds/ostrey/reaches", &json!({})).token(&app.member).send().await.problem(403, "forbidden");
        app.post("/v1/watersheds/ostrey/reaches", &json!({})).token(&app.stranger).send().await.problem(403, "forbidden");
    }
}

on_both! {
    async fn a_panic_and_a_slow_answer_leave_the_service_alive(app) {
        let problem = app.get("/test/panics").send().await.problem(500, "internal");
        assert!(!problem.to_string().contains("on purpose"), "{problem}");
        let answer = app.get("/test/sleeps").send().await;
        assert!(answer.header("retry-after").parse::<u64>().is_ok());
        answer.problem(503, "unavailable");
        app.get("/healthz").send().await.expect(200);
    }
}

on_both! {
    async fn a_service_that_has_not_loaded_is_up_but_not_ready(app) {
        app.get("/readyz").send().await.expect(200);
        app.service.hold_readiness(true);
        let answer = app.get("/readyz").send().await;
        assert!(answer.headers.contains_key("retry-after"));
        answer.problem(503, "unavailable");
        app.get("/healthz").send().await.expect(200);
        app.service.hold_readiness(false);
        app.get("/readyz").send().await.expect(200);
    }
}

on_both! {
    async fn a_database_that_is_gone_is_not_ready_and_reading_goes_on(app) {
        app.service.db().close().await;
        app.get("/readyz").send().await.problem(503, "unavailable");
        app.get("/v1/watersheds/ostrey/forecasts").send().await.expect(200);
        app.get("/w/ostrey").send().await.expect(200);
        app.get("/calendars/ostrey.ics").send().await.expect(200);
        let answer = app.get("/v1/reports/018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10").token(&app.member).send().await;
        assert!(answer.status.is_server_error());
    }
}

on_both! {
    async fn problem_types_resolve_to_a_page(app) {
        let problem = app.get("/nowhere").send().await.problem(404, "not-found");
        let page = problem["type"].as_str().expect("text").strip_prefix("http://water.test").expect("ours").to_owned();
        let answer = app.get(&page).send().await.expect(200);
        assert!(answer.text().contains(problem["title"].as_str().expect("text")));
        assert!(app.get("/problems/").send().await.expect(200).text().contains(&page));
    }
}

on_both! {
    async fn a_post_without_a_usable_key_is_refused(app) {
        let body = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
        let bare = app.post("/v1/reports", &body).token(&app.member).send().await;
        bare.problem(400, "idempotency-key-needed");
        for key in ["short", &"x".repeat(256), "0123456789abcde\u{e9}"] {
            app.post("/v1/reports", &body).token(&app.member).header("idempotency-key", key).send().await
                .problem(400, "idempotency-key-needed");
        }
    }
}

on_both! {
    async fn places_refuse_all_their_faults_at_once(app) {
        let body = json!({ "slug": "a b", "latitude": 91, "longitude": "x", "water_type": "lava", "elevation_m": 1e9 });
        let problem = app.post("/v1/watersheds/ostrey/reaches", &body).token(&app.keeper).send().await
            .problem(422, "invalid-document");
        assert_eq!(
            pointers(&problem),
            ["#/elevation_m", "#/latitude", "#/longitude", "#/name", "#/slug", "#/water_type"]
        );
    }
}
