//! Join codes: shown once, used as often as they are good for, guessed in vain.

use axum::http::Method;
use serde_json::{Value, json};

use crate::documents::{KEY, report};
use crate::support::{Answer, TestApp, on_both, pointers, slug};

const CODES: &str = "/v1/watersheds/ostrey/join-codes";
const TOKEN: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e99";
const OTHER: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e98";

async fn make(app: &TestApp, most_uses: u32) -> Value {
    let wish = json!({ "name": "Spring meeting", "most_uses": most_uses, "days": 7 });
    app.post(CODES, &wish).token(&app.keeper).send().await.expect(201).json()
}

fn text(value: &Value, member: &str) -> String {
    value[member].as_str().unwrap_or_else(|| panic!("{member} in {value}")).to_owned()
}

async fn join(app: &TestApp, id: &str, code: &str, name: &str) -> Answer {
    app.post("/v1/join", &json!({ "id": id, "code": code, "name": name })).send().await
}

on_both! {
    async fn a_member_joins_with_a_code_and_reports_with_a_token_of_their_own(app) {
        let made = make(&app, 2).await;
        let code = text(&made, "code");
        assert_eq!((made["uses"].as_u64(), made["most_uses"].as_u64()), (Some(0), Some(2)));
        assert_eq!(made["expires_at"], "2026-05-27T12:00:00Z");
        let typed = code.to_lowercase().replace('-', " ");
        let joined = join(&app, TOKEN, &typed, " Robin ").await.expect(201);
        assert_eq!(joined.header("cache-control"), "private, no-store");
        let token = joined.json();
        assert_eq!((&token["id"], &token["role"], &token["name"]), (&json!(TOKEN), &json!("member"), &json!("Robin")));
        assert_eq!(token["watersheds"], json!(["ostrey"]));
        let secret = text(&token, "secret");
        app.post("/v1/reports", &report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10")).token(&secret)
            .header("idempotency-key", KEY).send().await.expect(201);
        let listed = app.get(CODES).token(&app.keeper).send().await.expect(200);
        assert_eq!(listed.json()["items"][0]["uses"], 1);
        assert!(!listed.text().contains(&code), "the code is shown once");
        let mut tx = app.service.db().read().await.expect("reads");
        let stored = subimago::store::join_code::join_codes(&mut tx, &slug("ostrey")).await.expect("reads");
        assert!(!format!("{stored:?}").contains(&code));
    }
}

on_both! {
    async fn a_code_lets_in_no_more_than_it_is_good_for_however_many_come_at_once(app) {
        let code = text(&make(&app, 3).await, "code");
        let ids: Vec<String> = (0..8).map(|n| format!("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e{n:02}")).collect();
        let tries: Vec<_> = ids.iter().map(|id| join(&app, id, &code, "Robin")).collect();
        let answers = futures_util::future::join_all(tries).await;
        let let_in = answers.iter().filter(|answer| answer.status.as_u16() == 201).count();
        assert_eq!(let_in, 3);
        assert!(answers.iter().all(|answer| [201, 422].contains(&answer.status.as_u16())));
        assert_eq!(app.get("/v1/tokens").token(&app.keeper).send().await.json()["items"].as_array().expect("items").len(), 3 + 3);
    }
}

on_both! {
    async fn a_lost_answer_costs_no_second_use_and_a_used_token_is_not_given_again(app) {
        let made = make(&app, 1).await;
        let code = text(&made, "code");
        let first = text(&join(&app, TOKEN, &code, "Robin").await.expect(201).json(), "secret");
        let second = text(&join(&app, TOKEN, &code, "Robin").await.expect(201).json(), "secret");
        assert_ne!(first, second);
        let read = |secret: String| app.get("/v1/reports/018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10").token(&secret).send();
        read(first).await.problem(401, "unauthenticated");
        read(second.clone()).await.problem(404, "not-found");
        join(&app, TOKEN, &code, "Robin").await.problem(409, "conflict");
        read(second).await.problem(404, "not-found");
        join(&app, OTHER, &code, "Robin").await.problem(422, "invalid-document");
        // A code does not open tokens that came another way.
        let known = app.get("/v1/tokens").token(&app.keeper).send().await.json()["items"][0]["id"].as_str().expect("an id").to_owned();
        let code = text(&make(&app, 1).await, "code");
        join(&app, &known, &code, "the keeper").await.problem(409, "conflict");
    }
}

on_both! {
    async fn revoked_and_wrong_codes_are_refused_alike(app) {
        let made = make(&app, 5).await;
        let code = text(&made, "code");
        let path = format!("{CODES}/{}", text(&made, "id"));
        app.request(Method::DELETE, &path).token(&app.stranger).send().await.problem(403, "forbidden");
        app.request(Method::DELETE, &path).token(&app.keeper).send().await.expect(204);
        app.request(Method::DELETE, &format!("{CODES}/{TOKEN}")).token(&app.keeper).send().await.problem(404, "not-found");
        let mut told = Vec::new();
        for wrong in [code.as_str(), "0000-0000-0000-0000", "hello"] {
            let problem = join(&app, TOKEN, wrong, "Robin").await.problem(422, "invalid-document");
            assert_eq!(pointers(&problem), ["#/code"]);
            told.push(problem["errors"].clone());
        }
        assert!(told.iter().all(|one| *one == told[0]), "{told:?}");
        let problem = app.post("/v1/join", &json!({ "code": "", "name": "  ", "role": "keeper" })).send().await
            .problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/code", "#/id", "#/name", "#/role"]);
    }
}

on_both! {
    async fn guessing_waits_after_ten_tries(app) {
        let code = text(&make(&app, 5).await, "code");
        for _ in 0..10 {
            join(&app, TOKEN, "0000-0000-0000-0000", "Robin").await.problem(422, "invalid-document");
        }
        let refused = join(&app, TOKEN, &code, "Robin").await;
        assert!(refused.headers.contains_key("retry-after"));
        refused.problem(429, "too-many-requests");
    }
}

on_both! {
    async fn a_request_for_a_code_that_comes_again_does_not_show_it_again(app) {
        let wish = json!({ "name": "Spring meeting" });
        let ask = || app.post(CODES, &wish).token(&app.keeper).header("idempotency-key", KEY).send();
        ask().await.expect(201);
        let again = ask().await.problem(409, "conflict");
        assert!(!again.to_string().contains("code\":"));
        assert_eq!(app.get(CODES).token(&app.keeper).send().await.json()["items"].as_array().expect("items").len(), 1);
    }
}
