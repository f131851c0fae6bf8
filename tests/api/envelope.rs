//! Request ids, cross-origin rules and security headers, on good answers and bad.

use axum::http::Method;

use crate::support::on_both;

on_both! {
    async fn request_ids_are_echoed_or_made(app) {
        let given = app.get("/healthz").header("x-request-id", "walk-17.a_b").send().await;
        assert_eq!(given.header("x-request-id"), "walk-17.a_b");
        let made = app.get("/healthz").send().await;
        assert!(uuid::Uuid::try_parse(made.header("x-request-id")).is_ok());
        for bad in ["", &"x".repeat(65), "a b", "<script>"] {
            let answer = app.get("/healthz").header("x-request-id", bad).send().await;
            assert_ne!(answer.header("x-request-id"), bad);
        }
        let refused = app.get("/nowhere").header("x-request-id", "walk-18").send().await;
        assert_eq!(refused.problem(404, "not-found")["request_id"], "walk-18");
    }
}

on_both! {
    async fn every_origin_may_read_and_listed_ones_may_write(app) {
        for path in ["/v1/watersheds", "/nowhere", "/test/panics", "/calendars/ostrey.ics", "/v1/taxa?x=1"] {
            let answer = app.get(path).header("origin", "https://anyone.test").send().await;
            assert_eq!(answer.header("access-control-allow-origin"), "*", "{path}");
            assert!(answer.header("access-control-expose-headers").contains("ETag"));
            assert!(!answer.headers.contains_key("access-control-allow-credentials"));
        }
        let preflight = |origin: &str, method: &str| {
            app.request(Method::OPTIONS, "/v1/reports").header("origin", origin)
                .header("access-control-request-method", method)
                .header("access-control-request-headers", "authorization,content-type,idempotency-key").send()
        };
        let listed = preflight("https://club.test", "POST").await.expect(204);
        assert_eq!(listed.header("access-control-allow-origin"), "https://club.test");
        assert!(listed.header("access-control-allow-headers").contains("Idempotency-Key"));
        assert!(listed.header("access-control-allow-headers").contains("Authorization"));
        assert!(listed.header("vary").to_lowercase().contains("origin"));
        let unlisted = preflight("https://anyone.test", "POST").await;
        assert!(!unlisted.headers.contains_key("access-control-allow-origin"));
        assert_eq!(preflight("https://anyone.test", "GET").await.header("access-control-allow-origin"), "*");
        let refused = app.request(Method::POST, "/v1/reports").header("origin", "https://club.test").send().await;
        assert_eq!(refused.header("access-control-allow-origin"), "https://club.test");
        refused.problem(401, "unauthenticated");
    }
}

on_both! {
    async fn security_headers_stand_on_everything(app) {
        for path in ["/", "/w/ostrey", "/v1/watersheds", "/nowhere", "/test/panics", "/reference", "/calendars/ostrey.ics"] {
            let answer = app.get(path).send().await;
            assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
            assert_eq!(answer.header("referrer-policy"), "no-referrer");
            assert_eq!(answer.header("cross-origin-opener-policy"), "same-origin");
            let policy = answer.header("content-security-policy").to_owned();
            for part in ["default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'", "object-src 'none'"] {
                assert!(policy.contains(part), "{part} in {policy} at {path}");
            }
            assert!(!policy.contains("unsafe") && !policy.contains("script-src"), "{path}: {policy}");
            assert!(!answer.headers.contains_key("set-cookie"));
            assert!(!answer.headers.contains_key("strict-transport-security"), "only with TLS");
        }
    }
}
