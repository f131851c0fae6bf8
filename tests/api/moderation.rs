//! What keepers decide, what happened to a report, and taking a decision back.

use axum::http::Method;
use serde_json::{Value, json};
use subimago::domain::job::JobState;

use crate::documents::{KEY, report};
use crate::place_changes::taken;
use crate::support::{TestApp, on_both, pointers, slug};

const ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
const PATH: &str = "/v1/reports/018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
const DECISION: &str = "/v1/reports/018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10/decision";
const MODERATION: &str = "/v1/watersheds/ostrey/moderation";

async fn file(app: &TestApp) {
    app.post("/v1/reports", &report(ID)).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
}

async fn decide(app: &TestApp, state: &str, reason: Option<&str>) -> Value {
    let wish = json!({ "state": state, "reason": reason });
    app.post(DECISION, &wish).token(&app.keeper).send().await.expect(200).json()
}

async fn tag(app: &TestApp) -> String {
    app.get(PATH).token(&app.keeper).send().await.expect(200).header("etag").to_owned()
}

/// Ids of the reports that a keeper's list shows.
async fn listed(app: &TestApp, query: &str) -> Vec<String> {
    let list = app.get(&format!("{MODERATION}{query}")).token(&app.keeper).send().await.expect(200).json();
    let items = list["items"].as_array().expect("items").clone();
    items.iter().map(|item| item["report"]["id"].as_str().expect("an id").to_owned()).collect()
}

/// Everything public that speaks of single reports.
async fn public(app: &TestApp) -> Vec<String> {
    let mut seen = Vec::new();
    for path in [
        "/v1/watersheds/ostrey/reports",
        "/v1/watersheds/ostrey/reports.csv",
        "/ogc/collections/observations/items?limit=1000",
    ] {
        let text = app.get(path).send().await.expect(200).text();
        if text.contains("2026-05-19") {
            seen.push(path.to_owned());
        }
    }
    seen
}

on_both! {
    async fn a_report_set_aside_leaves_all_public_output_and_comes_back(app) {
        assert!(public(&app).await.is_empty(), "nothing of that day is there before");
        file(&app).await;
        assert_eq!(public(&app).await.len(), 3);
        decide(&app, "rejected", Some("another river")).await;
        assert!(public(&app).await.is_empty());
        let accepted = subimago::store::report::accepted_reports(
            &mut app.service.db().read().await.expect("reads"), &crate::support::slug("ostrey"), None).await.expect("reads");
        assert!(accepted.is_empty(), "models do not see it");
        decide(&app, "accepted", None).await;
        assert_eq!(public(&app).await.len(), 3);
    }
}

on_both! {
    async fn a_decision_that_moves_models_queues_a_fit_and_another_does_not(app) {
        let waiting = async || {
            let mut tx = app.service.db().write().await.expect("writes");
            let all = subimago::store::job::jobs(&mut tx, &crate::support::slug("ostrey"), 50).await.expect("reads");
            let whole = |job: &&subimago::domain::job::Job| job.kind == "fit" && job.arguments_json == "{}";
            let fits = all.iter().filter(whole).filter(|job| job.state.as_str() == "queued").count();
            // As a worker would: what waits is taken away, so that the next wish is seen.
            let lease = chrono::TimeDelta::minutes(1);
            while subimago::store::job::claim_job(&mut tx, lease, crate::support::now()).await.expect("claims").is_some() {}
            tx.commit().await.expect("commits");
            fits
        };
        file(&app).await;
        assert_eq!(waiting().await, 1, "filing queues one");
        decide(&app, "accepted", None).await;
        assert_eq!(waiting().await, 0, "it was in use before");
        decide(&app, "rejected", Some("another river")).await;
        assert_eq!(waiting().await, 1);
        decide(&app, "needs_info", Some("which river?")).await;
        assert_eq!(waiting().await, 0, "out of use before and after");
        decide(&app, "accepted", None).await;
        assert_eq!(waiting().await, 1);
    }
}

on_both! {
    async fn setting_aside_and_asking_need_a_reason(app) {
        file(&app).await;
        for state in ["rejected", "needs_info"] {
            for reason in [Value::Null, json!("  ")] {
                let problem = app.post(DECISION, &json!({ "state": state, "reason": reason })).token(&app.keeper).send().await
                    .problem(422, "invalid-document");
                assert_eq!(pointers(&problem), ["#/reason"]);
            }
        }
        decide(&app, "accepted", None).await;
    }
}

on_both! {
    async fn the_history_says_who_did_what_when_and_why(app) {
        file(&app).await;
        decide(&app, "rejected", Some("another river")).await;
        let mended = app.patch(PATH, &json!({ "people": 3 })).token(&app.member).header("if-match", tag(&app).await).send().await;
        assert_eq!(mended.expect(200).json()["state"], "new");
        decide(&app, "accepted", None).await;
        let told = app.get(&format!("{PATH}/moderation")).token(&app.keeper).send().await.expect(200).json();
        assert_eq!(told["sender"], "a member");
        assert_eq!(told["undo_to"], "new");
        let at = "2026-05-20T12:00:00Z";
        assert_eq!(told["history"], json!([
            { "action": "filed", "at": at, "by": "a member", "from": null, "to": "accepted", "reason": null },
            { "action": "decision", "at": at, "by": "the keeper", "from": "accepted", "to": "rejected", "reason": "another river" },
            { "action": "edit", "at": at, "by": "a member", "from": "rejected", "to": "new", "reason": null },
            { "action": "decision", "at": at, "by": "the keeper", "from": "new", "to": "accepted", "reason": null },
        ]));
        let list = app.get(MODERATION).token(&app.keeper).send().await.expect(200).json();
        assert_eq!(list["items"][0], told, "the list tells the same");
    }
}

on_both! {
    async fn the_last_decision_is_taken_back_once(app) {
        file(&app).await;
        let undo = |tag: String| app.request(Method::DELETE, DECISION).token(&app.keeper).header("if-match", tag).send();
        app.request(Method::DELETE, DECISION).token(&app.keeper).send().await.problem(428, "precondition-required");
        undo(tag(&app).await).await.problem(409, "conflict");
        let before = tag(&app).await;
        decide(&app, "rejected", Some("another river")).await;
        undo(before).await.problem(412, "precondition-failed");
        let back = undo(tag(&app).await).await.expect(200).json();
        assert_eq!(back["state"], "accepted");
        assert_eq!(public(&app).await.len(), 3);
        undo(tag(&app).await).await.problem(409, "conflict");
        // The same decision may be made again after it was taken back.
        assert_eq!(decide(&app, "rejected", Some("another river")).await["state"], "rejected");
    }
}

on_both! {
    async fn the_same_decision_again_changes_nothing_and_two_keepers_do_not_overwrite(app) {
        file(&app).await;
        let read = tag(&app).await;
        let first = decide(&app, "rejected", Some("another river")).await;
        assert_eq!(decide(&app, "rejected", Some("another river")).await, first, "no new version");
        let late = json!({ "state": "accepted" });
        app.post(DECISION, &late).token(&app.keeper).header("if-match", &read).send().await.problem(412, "precondition-failed");
        // A decision that is sent again because its answer was lost is answered, whatever version it was held to.
        let again = json!({ "state": "rejected", "reason": "another river" });
        let answer = app.post(DECISION, &again).token(&app.keeper).header("if-match", &read).send().await.expect(200);
        assert_eq!(answer.json(), first);
        let (one, other) = (json!({ "state": "accepted" }), json!({ "state": "needs_info", "reason": "which?" }));
        let held = tag(&app).await;
        let send = |wish: &Value| app.post(DECISION, wish).token(&app.keeper).header("if-match", &held).send();
        let (one, other) = tokio::join!(send(&one), send(&other));
        let mut both = [one.status.as_u16(), other.status.as_u16()];
        both.sort_unstable();
        assert_eq!(both, [200, 412]);
    }
}

on_both! {
    async fn what_waits_is_what_no_keeper_has_settled(app) {
        assert!(listed(&app, "").await.is_empty());
        file(&app).await;
        assert_eq!(listed(&app, "?waiting=true").await, [ID], "accepted as it came");
        decide(&app, "accepted", None).await;
        assert!(listed(&app, "?waiting=true").await.is_empty());
        assert_eq!(listed(&app, "?state=accepted").await, [ID]);
        app.request(Method::DELETE, DECISION).token(&app.keeper).header("if-match", tag(&app).await).send().await.expect(200);
        assert_eq!(listed(&app, "?waiting=true").await, [ID], "accepting it was taken back: it is as it came");
        decide(&app, "accepted", None).await;
        app.patch(PATH, &json!({ "people": 3 })).token(&app.member).header("if-match", tag(&app).await).send().await.expect(200);
        assert_eq!(listed(&app, "?waiting=true").await, [ID], "its sender changed it");
        app.patch(PATH, &json!({ "people": 4 })).token(&app.keeper).header("if-match", tag(&app).await).send().await.expect(200);
        assert!(listed(&app, "?waiting=true").await.is_empty(), "a keeper went through it");
        decide(&app, "needs_info", Some("which river?")).await;
        assert_eq!(listed(&app, "?waiting=true").await, [ID]);
        decide(&app, "rejected", Some("another river")).await;
        assert!(listed(&app, "?waiting=true").await.is_empty());
        assert_eq!(listed(&app, "?state=rejected").await, [ID]);
        assert!(listed(&app, "?state=accepted").await.is_empty());
        app.request(Method::DELETE, DECISION).token(&app.keeper).header("if-match", tag(&app).await).send().await.expect(200);
        assert_eq!(listed(&app, "?waiting=true&state=needs_info").await, [ID]);
        app.get(&format!("{MODERATION}?state=odd")).token(&app.keeper).send().await.problem(400, "bad-query");
        // What a keeper sent needs nobody's look.
        let other = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e11";
        app.post("/v1/reports", &report(other)).token(&app.keeper).header("idempotency-key", KEY).send().await.expect(201);
        assert_eq!(listed(&app, "?waiting=true").await, [ID]);
        assert_eq!(listed(&app, "?limit=1").await.len(), 1);
    }
}

const OWN: &str = "/v1/reports";

async fn own(app: &TestApp, token: &str) -> Vec<Value> {
    let list = app.get(OWN).token(token).send().await.expect(200).json();
    list["items"].as_array().expect("items").clone()
}

on_both! {
    async fn its_sender_reads_what_is_asked_and_answers(app) {
        file(&app).await;
        let [one] = &own(&app, &app.member).await[..] else { panic!("one report") };
        assert_eq!((&one["report"]["id"], &one["report"]["state"], &one["reason"]), (&json!(ID), &json!("accepted"), &Value::Null));
        decide(&app, "needs_info", Some("Which of the two weirs?")).await;
        let [one] = &own(&app, &app.member).await[..] else { panic!("one report") };
        assert_eq!((&one["report"]["state"], &one["reason"]), (&json!("needs_info"), &json!("Which of the two weirs?")));
        assert!(!one.to_string().contains("The keeper"), "who asked stays with the keepers: {one}");
        // Nobody else's list holds it, not even a keeper's of the water.
        for token in [&app.other_member, &app.keeper, &app.stranger] {
            assert!(own(&app, token).await.is_empty());
        }
        let answer = app.request(Method::PATCH, PATH).token(&app.member).header("if-match", one["entity_tag"].as_str().expect("a tag"));
        answer.json(&json!({ "note": "The upper one." })).send().await.expect(200);
        let [one] = &own(&app, &app.member).await[..] else { panic!("one report") };
        assert_eq!((&one["report"]["state"], &one["reason"]), (&json!("new"), &Value::Null), "it waits for a keeper again");
        decide(&app, "rejected", Some("another river")).await;
        let [one] = &own(&app, &app.member).await[..] else { panic!("one report") };
        assert_eq!((&one["report"]["state"], &one["reason"]), (&json!("rejected"), &json!("another river")));
    }
}

/// How many fits of everything were asked for, none of which waits any longer: the next wish is a job of its own. The
/// stored fits of this water are of no version, so that what is published behind a report's back asks for single taxa,
/// sooner or later, and holds what waits meanwhile.
async fn fits_asked_for(app: &TestApp) -> usize {
    loop {
        taken(app).await;
        let mut tx = app.service.db().read().await.expect("begins");
        let mut all = subimago::store::job::jobs(&mut tx, &slug("ostrey"), 1000).await.expect("reads");
        all.retain(|job| job.kind == "fit" && job.arguments_json == "{}");
        if all.iter().all(|job| job.state == JobState::Done) {
            return all.len();
        }
        tokio::time::sleep(std::time::Duration::from_millis(20)).await;
    }
}

on_both! {
    async fn what_is_out_of_use_is_edited_and_withdrawn_without_a_fit(app) {
        file(&app).await;
        assert_eq!(fits_asked_for(&app).await, 1, "filing asks for a fit");
        let edit = async |note: &str| {
            let request = app.patch(PATH, &json!({ "note": note })).token(&app.member);
            request.header("if-match", tag(&app).await).send().await.expect(200);
        };
        edit("a cold wind").await;
        assert_eq!(fits_asked_for(&app).await, 2, "it counts");
        decide(&app, "needs_info", Some("which river?")).await;
        assert_eq!(fits_asked_for(&app).await, 3, "it counts no more");
        edit("this one").await;
        assert_eq!(fits_asked_for(&app).await, 3, "it did not count and does not");
        let gone = app.request(Method::DELETE, PATH).token(&app.member).header("if-match", tag(&app).await);
        gone.send().await.expect(204);
        assert_eq!(fits_asked_for(&app).await, 3, "it did not count");
    }
}

on_both! {
    async fn the_answer_to_a_filing_goes_with_the_report(app) {
        file(&app).await;
        let again = app.post("/v1/reports", &report(ID)).token(&app.member).header("idempotency-key", KEY);
        again.send().await.expect(200);
        let gone = app.request(Method::DELETE, PATH).token(&app.member).header("if-match", tag(&app).await);
        gone.send().await.expect(204);
        let again = app.post("/v1/reports", &report(ID)).token(&app.member).header("idempotency-key", KEY);
        let told = again.send().await.problem(409, "conflict");
        assert!(told["detail"].as_str().is_some_and(|text| text.contains("withdrawn")), "{told}");
        assert_eq!(fits_asked_for(&app).await, 1, "the fit that the filing asked for does for both");
    }
}
