//! Tokens: shown once, revoked at once, guessed in vain.

use axum::http::Method;
use serde_json::json;

use crate::support::{self, on_both, pointers};

on_both! {
    async fn a_token_is_shown_once_works_and_ends_with_its_revocation(app) {
        let wish = json!({ "name": "evening walks", "role": "member", "watersheds": ["ostrey"], "days": 30.0 });
        let made = app.post("/v1/tokens", &wish).token(&app.keeper).send().await.expect(201);
        let secret = made.json()["secret"].as_str().expect("shown once").to_owned();
        let path = made.header("location").strip_prefix("http://water.test").expect("ours").to_owned();
        assert_eq!(secret.len(), "subimago_".len() + 43 + 6);
        let listed = app.get("/v1/tokens").token(&app.keeper).send().await.expect(200);
        assert!(!listed.text().contains(&secret) && !listed.text().contains("secret"));
        let names: Vec<_> = listed.json()["items"].as_array().expect("items").iter()
            .map(|item| item["name"].as_str().expect("a name").to_owned()).collect();
        assert!(names.contains(&"evening walks".to_owned()) && !names.iter().any(|name| name.contains("another water")));
        let report = "/v1/reports/018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
        app.get(report).token(&secret).send().await.problem(404, "not-found");
        let read = app.get(&path).token(&app.keeper).send().await.expect(200).json();
        assert_eq!(read["last_used_date"], "2026-05-20");
        assert_eq!(read["expires_at"], "2026-06-19T12:00:00Z");
        app.request(Method::DELETE, &path).token(&app.stranger).send().await.problem(404, "not-found");
        app.request(Method::DELETE, &path).token(&app.keeper).send().await.expect(204);
        app.get(report).token(&secret).send().await.problem(401, "unauthenticated");
    }
}

on_both! {
    async fn a_keeper_hands_out_only_what_is_theirs(app) {
        let wish = json!({ "name": "x", "role": "keeper", "watersheds": ["ostrey", "elsewhere"] });
        let problem = app.post("/v1/tokens", &wish).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/watersheds/1"]);
        let wish = json!({ "role": "operator", "watersheds": [], "days": 0 });
        let problem = app.post("/v1/tokens", &wish).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/days", "#/name", "#/role", "#/watersheds"]);
    }
}

on_both! {
    async fn guessing_is_stopped_for_the_guesser_alone(app) {
        let path = "/v1/tokens";
        for _ in 0..10 {
            app.get(path).token("subimago_guess").send().await.problem(401, "unauthenticated");
        }
        let answer = app.get(path).token("subimago_guess").send().await;
        assert!(answer.header("retry-after").parse::<u64>().is_ok_and(|seconds| (1..=60).contains(&seconds)));
        answer.problem(429, "too-many-requests");
        // Claiming another address changes nothing when no proxy is trusted.
        app.get(path).token("subimago_guess").header("x-forwarded-for", "203.0.113.9").send().await
            .problem(429, "too-many-requests");
        app.get("/v1/taxa").send().await.expect(200);
    }
}

on_both! {
    async fn a_first_request_of_the_day_does_not_wait_for_who_writes(app) {
        let db = app.service.db();
        let hash = subimago::app::token::hash(&app.member).expect("well formed");
        let find = async || {
            let mut tx = db.read().await.expect("begins");
            subimago::store::token::find_token_by_hash(&mut tx, &hash).await.expect("reads").expect("is there")
        };
        let member = find().await;
        let mut tx = db.write().await.expect("begins");
        subimago::store::token::touch_token(&mut tx, member.id, support::date(2026, 5, 18)).await.expect("writes");
        tx.commit().await.expect("commits");
        // Somebody stores for long: all of SQLite, and this token's row on PostgreSQL.
        let mut busy = db.write().await.expect("begins");
        subimago::store::token::touch_token(&mut busy, member.id, support::date(2026, 5, 19)).await.expect("writes");
        app.get("/v1/reports").token(&app.member).send().await.expect(200);
        app.get("/v1/reports").token(&app.member).send().await.expect(200);
        busy.commit().await.expect("commits");
        for _ in 0..100 {
            if find().await.last_used_date == Some(support::date(2026, 5, 20)) {
                return;
            }
            tokio::time::sleep(std::time::Duration::from_millis(20)).await;
        }
        panic!("the day was not kept");
    }
}
