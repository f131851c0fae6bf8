//! Entity tags, 304, compression and caching rules.

use axum::http::Method;

use crate::support::on_both;

const CACHED: [(&str, &str); 9] = [
    ("/v1/watersheds/ostrey/forecasts", "public, max-age=300, stale-while-revalidate=3600, stale-if-error=86400"),
    (
        "/v1/watersheds/ostrey/reaches/mill-meadow/guidance",
        "public, max-age=300, stale-while-revalidate=3600, stale-if-error=86400",
    ),
    ("/v1/watersheds", "public, max-age=60, stale-if-error=86400"),
    ("/v1/watersheds/ostrey", "public, max-age=60, stale-if-error=86400"),
    ("/v1/taxa/ephemera-danica", "public, max-age=60, stale-if-error=86400"),
    ("/v1/watersheds/ostrey/reports", "public, max-age=60, stale-if-error=86400"),
    ("/calendars/ostrey.ics", "public, max-age=3600"),
    ("/w/ostrey", "public, max-age=0, must-revalidate"),
    ("/openapi.json", "public, max-age=60, stale-if-error=86400"),
];

on_both! {
    async fn unchanged_resources_answer_304_with_their_tag_and_rules(app) {
        for (path, rules) in CACHED {
            let first = app.get(path).send().await.expect(200);
            assert_eq!(first.header("cache-control"), rules, "{path}");
            let tag = first.header("etag").to_owned();
            let opaque = tag.trim_start_matches("W/");
            for held in [tag.clone(), format!("\"other\", {tag}"), opaque.to_owned(), format!("W/{opaque}"), "*".to_owned()] {
                let second = app.get(path).header("if-none-match", &held).send().await.expect(304);
                assert!(second.bytes.is_empty(), "{path}");
                assert_eq!(second.header("etag"), tag);
                assert_eq!(second.header("cache-control"), rules);
            }
            app.get(path).header("if-none-match", "\"other\"").send().await.expect(200);
            let again = app.get(path).send().await;
            assert_eq!(again.bytes, first.bytes, "{path}");
            let head = app.request(Method::HEAD, path).send().await.expect(200);
            assert_eq!(head.header("etag"), tag);
            assert!(head.bytes.is_empty());
        }
    }
}

on_both! {
    async fn compressed_bodies_carry_weak_tags_and_feeds_are_never_compressed(app) {
        let forecast = app.get("/v1/watersheds/ostrey/forecasts").header("accept-encoding", "gzip").send().await.expect(200);
        assert_eq!(forecast.header("content-encoding"), "gzip");
        assert!(forecast.header("etag").starts_with("W/"));
        assert!(forecast.header("vary").to_lowercase().contains("accept-encoding"));
        for path in ["/calendars/ostrey.ics", "/v1/watersheds/ostrey"] {
            let plain = app.get(path).header("accept-encoding", "gzip").send().await.expect(200);
            assert!(!plain.headers.contains_key("content-encoding"), "{path}");
            assert!(plain.header("etag").starts_with('"'), "{path}");
        }
    }
}

on_both! {
    async fn what_a_token_opens_is_not_stored_by_caches(app) {
        let tokens = app.get("/v1/tokens").token(&app.keeper).send().await.expect(200);
        assert_eq!(tokens.header("cache-control"), "private, no-store");
        let refused = app.get("/v1/tokens").send().await;
        assert_eq!(refused.header("cache-control"), "no-store");
    }
}
