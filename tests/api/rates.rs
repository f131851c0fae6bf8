//! How much a token may write, and how it is told.

use serde_json::{Value, json};
use subimago::http::{AppState, Settings, router};

use crate::support::{Answer, TestApp, on_both};

/// The service with small limits.
fn limited(app: TestApp) -> TestApp {
    let settings = Settings {
        public_url: "http://water.test".to_owned(),
        writes_per_minute: 3,
        writes_per_day: 100,
        write_origins: vec!["https://club.test".to_owned()],
        ..Settings::default()
    };
    TestApp { router: router(AppState::new(app.service.clone(), settings)), ..app }
}

async fn write(app: &TestApp, secret: &str, body: &Value) -> Answer {
    let request = app.post("/v1/watersheds/ostrey/fits", body).token(secret).header("origin", "https://club.test");
    request.send().await
}

/// The parameter `name` of a structured field with one item.
fn parameter(field: &str, name: &str) -> u64 {
    let found = field.split(';').find_map(|part| part.trim().strip_prefix(name)?.strip_prefix('=')).expect(name);
    found.parse().expect("a number")
}

on_both! {
    async fn writes_beyond_the_limit_wait_and_reading_goes_on(app) {
        let app = limited(app);
        // Each write counts, refused ones too: whether they are right is work already.
        for (body, status, left) in [(json!({}), 202, 2), (json!({ "taxon": 1 }), 422, 1), (json!({}), 202, 0)] {
            let answer = write(&app, &app.keeper, &body).await.expect(status);
            assert_eq!(answer.header("ratelimit-policy"), "\"writes-per-minute\";q=3;w=60, \"writes-per-day\";q=100;w=86400");
            assert!(answer.header("ratelimit").starts_with("\"writes-per-minute\";"));
            assert_eq!(parameter(answer.header("ratelimit"), "r"), left);
        }
        let refused = write(&app, &app.keeper, &json!({})).await;
        assert_eq!(parameter(refused.header("ratelimit"), "r"), 0);
        assert_eq!(parameter(refused.header("ratelimit"), "t"), refused.header("retry-after").parse::<u64>().expect("seconds"));
        assert_eq!(refused.header("access-control-allow-origin"), "https://club.test");
        assert!(refused.header("access-control-expose-headers").contains("RateLimit-Policy"));
        refused.problem(429, "too-many-requests");
        for _ in 0..5 {
            let read = app.get("/v1/tokens").token(&app.keeper).send().await.expect(200);
            assert!(!read.headers.contains_key("ratelimit"), "reading is not counted");
        }
        let other = write(&app, &app.member, &json!({})).await;
        assert_eq!(parameter(other.header("ratelimit"), "r"), 2);
        other.problem(403, "forbidden");
    }
}

on_both! {
    async fn an_address_that_guesses_is_told_where_it_stands(app) {
        for left in (0..10).rev() {
            let answer = app.get("/v1/tokens").token("subimago_guess").send().await;
            assert_eq!(parameter(answer.header("ratelimit"), "r"), left);
            answer.problem(401, "unauthenticated");
        }
        let answer = app.get("/v1/tokens").token(&app.keeper).send().await;
        assert_eq!(parameter(answer.header("ratelimit"), "t"), answer.header("retry-after").parse::<u64>().expect("seconds"));
        answer.problem(429, "too-many-requests");
    }
}
