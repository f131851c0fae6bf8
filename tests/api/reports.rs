//! Field reports: filed once whatever happens, seen by those who may, published without the spot.

use axum::http::Method;
use serde_json::{Value, json};
use subimago::store::job;

use crate::documents::{KEY, report};
use crate::support::{Answer, TestApp, on_both, slug};

const ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";
const OTHER_ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e11";
const OTHER_KEY: &str = "fedcba9876543210";

async fn file(app: &TestApp, key: &str, body: &Value) -> Answer {
    app.post("/v1/reports", body).token(&app.member).header("idempotency-key", key).send().await
}

async fn stored(app: &TestApp) -> usize {
    let list = app.get("/v1/watersheds/ostrey/reports").send().await.expect(200).json();
    list["items"].as_array().expect("items").len()
}

on_both! {
    async fn a_report_is_stored_once_however_often_it_is_sent(app) {
        let first = file(&app, KEY, &report(ID)).await.expect(201);
        assert_eq!(first.header("location"), format!("http://water.test/v1/reports/{ID}"));
        assert_eq!(first.json()["state"], "accepted");
        assert_eq!(first.json()["started_at"], "2026-05-19T17:00:00Z");
        for key in [KEY, OTHER_KEY, &format!("\"{KEY}\"")] {
            let again = file(&app, key, &report(ID)).await.expect(200);
            assert_eq!(again.header("idempotent-replayed"), "true");
            assert_eq!(again.header("location"), first.header("location"));
            assert_eq!(again.json(), first.json());
        }
        // The same instants in another offset and members in another order say the same.
        let mut same = report(ID);
        same["started_at"] = json!("2026-05-19T17:00:00Z");
        file(&app, KEY, &same).await.expect(200);
        let mut other = report(ID);
        other["people"] = json!(3);
        for key in [KEY, OTHER_KEY, "yet-another-key-0"] {
            file(&app, key, &other).await.problem(409, "conflict");
        }
        file(&app, KEY, &report(OTHER_ID)).await.problem(422, "idempotency-key-reused");
        assert_eq!(stored(&app).await, 1);
    }
}

on_both! {
    async fn parallel_sends_make_one_row(app) {
        let mut sends = Vec::new();
        for _ in 0..8 {
            let app = app.clone();
            sends.push(tokio::spawn(async move { file(&app, KEY, &report(ID)).await.status.as_u16() }));
        }
        let mut codes = Vec::new();
        for send in sends {
            codes.push(send.await.expect("no panic"));
        }
        assert_eq!(codes.iter().filter(|code| **code == 201).count(), 1, "{codes:?}");
        assert!(codes.iter().all(|code| [200, 201, 409, 503].contains(code)), "{codes:?}");
        assert_eq!(stored(&app).await, 1);
    }
}

on_both! {
    async fn another_members_same_key_is_their_own(app) {
        file(&app, KEY, &report(ID)).await.expect(201);
        app.post("/v1/reports", &report(OTHER_ID)).token(&app.other_member).header("idempotency-key", KEY).send().await
            .expect(201);
        app.post("/v1/reports", &report(ID)).token(&app.other_member).header("idempotency-key", OTHER_KEY).send().await
            .problem(409, "conflict");
    }
}

on_both! {
    async fn a_refused_report_does_not_use_up_its_key(app) {
        let mut faulty = report(ID);
        faulty["reach"] = json!("nowhere");
        file(&app, KEY, &faulty).await.problem(422, "invalid-document");
        file(&app, KEY, &report(ID)).await.expect(201);
    }
}

on_both! {
    async fn a_blank_report_is_a_report(app) {
        let body = json!({ "id": ID, "watershed": "ostrey", "reach": "mill-meadow",
            "started_at": "2026-05-19T18:00:00Z", "ended_at": "2026-05-19T18:30:00Z", "sightings": [] });
        let filed = file(&app, KEY, &body).await.expect(201).json();
        assert_eq!(filed["people"], 1);
        assert!(filed["looked_for"].is_null());
        assert_eq!(filed["sightings"], json!([]));
    }
}

on_both! {
    async fn a_report_asks_for_one_fit(app) {
        file(&app, KEY, &report(ID)).await.expect(201);
        file(&app, OTHER_KEY, &report(OTHER_ID)).await.expect(201);
        let mut tx = app.service.db().read().await.expect("reads");
        let jobs = job::jobs(&mut tx, &slug("ostrey"), 10).await.expect("reads");
        assert_eq!(jobs.len(), 1, "{jobs:?}");
    }
}

on_both! {
    async fn only_its_sender_and_the_keepers_see_a_report(app) {
        file(&app, KEY, &report(ID)).await.expect(201);
        let path = format!("/v1/reports/{ID}");
        for (secret, status) in [(&app.member, 200), (&app.keeper, 200), (&app.other_member, 404), (&app.stranger, 404)] {
            let seen = app.get(&path).token(secret).send().await.expect(status);
            let unknown = app.get(&format!("/v1/reports/{OTHER_ID}")).token(secret).send().await.expect(404);
            if status == 404 {
                let (mut one, mut two) = (seen.json(), unknown.json());
                for body in [&mut one, &mut two] {
                    body["instance"] = Value::Null;
                    body["request_id"] = Value::Null;
                }
                assert_eq!(one, two, "hidden and absent look the same");
            }
        }
        app.get(&path).send().await.problem(401, "unauthenticated");
    }
}

on_both! {
    async fn the_public_sees_neither_spot_nor_hour_nor_person(app) {
        file(&app, KEY, &report(ID)).await.expect(201);
        let answer = app.get("/v1/watersheds/ostrey/reports").send().await.expect(200);
        let text = answer.text();
        for secret in ["sluice", "ash", "17:00", "18:00", "half cloud", "12.5", "\"count\"", "token", "people", "a member"] {
            assert!(!text.contains(secret), "{secret} in {text}");
        }
        assert_eq!(answer.json()["items"][0], json!({
            "id": ID, "watershed": "ostrey", "reach": "mill-meadow", "date": "2026-05-19",
            "sightings": [{ "taxon": "ephemera-danica", "stage": "dun", "abundance_class": "moderate" }],
        }));
    }
}

on_both! {
    async fn edits_need_the_version_read_and_are_kept(app) {
        let filed = file(&app, KEY, &report(ID)).await.expect(201);
        let path = format!("/v1/reports/{ID}");
        let tag = filed.header("etag").to_owned();
        assert_eq!(app.get(&path).token(&app.member).send().await.header("etag"), tag);
        let patch = json!({ "people": 3, "note": null });
        app.patch(&path, &patch).token(&app.member).send().await.problem(428, "precondition-required");
        app.patch(&path, &patch).token(&app.other_member).header("if-match", &tag).send().await.problem(404, "not-found");
        let edited = app.patch(&path, &patch).token(&app.member).header("if-match", &tag).send().await.expect(200);
        assert_eq!(edited.json()["people"], 3);
        assert!(edited.json()["note"].is_null());
        assert_eq!(edited.json()["version"], 2);
        app.patch(&path, &patch).token(&app.member).header("if-match", &tag).send().await.problem(412, "precondition-failed");
        let tag = edited.header("etag").to_owned();
        for (patch, pointer) in [(json!({ "id": OTHER_ID }), "#/id"), (json!({ "watershed": "elsewhere" }), "#/watershed"),
            (json!({ "state": "new" }), "#/state"), (json!({ "reach": "nowhere" }), "#/reach")] {
            let problem = app.patch(&path, &patch).token(&app.member).header("if-match", &tag).send().await
                .problem(422, "invalid-document");
            assert_eq!(crate::support::pointers(&problem), [pointer]);
        }
        // A late copy of the first sending is answered, and changes nothing.
        file(&app, KEY, &report(ID)).await.expect(200);
        assert_eq!(app.get(&path).token(&app.member).send().await.json()["people"], 3);
    }
}

on_both! {
    async fn a_withdrawn_report_is_gone_and_its_id_stays_taken(app) {
        let filed = file(&app, KEY, &report(ID)).await.expect(201);
        let path = format!("/v1/reports/{ID}");
        app.request(Method::DELETE, &path).token(&app.member).send().await.problem(428, "precondition-required");
        app.request(Method::DELETE, &path).token(&app.member).header("if-match", "\"other\"").send().await
            .problem(412, "precondition-failed");
        let tag = filed.header("etag").to_owned();
        app.request(Method::DELETE, &path).token(&app.member).header("if-match", tag).send().await.expect(204);
        app.get(&path).token(&app.member).send().await.problem(404, "not-found");
        assert_eq!(stored(&app).await, 0);
        file(&app, OTHER_KEY, &report(ID)).await.problem(409, "conflict");
    }
}

on_both! {
    async fn keepers_decide_and_rejected_reports_leave_the_public_list(app) {
        file(&app, KEY, &report(ID)).await.expect(201);
        let path = format!("/v1/reports/{ID}/decision");
        let reject = json!({ "state": "rejected", "reason": "wrong river" });
        app.post(&path, &reject).token(&app.member).send().await.problem(403, "forbidden");
        app.post(&path, &reject).token(&app.stranger).send().await.problem(404, "not-found");
        let decided = app.post(&path, &reject).token(&app.keeper).send().await.expect(200).json();
        assert_eq!(decided["state"], "rejected");
        assert_eq!(stored(&app).await, 0);
        app.post(&path, &json!({ "state": "new" })).token(&app.keeper).send().await.problem(422, "invalid-document");
        // The member mends it: it waits for the keepers again.
        let path = format!("/v1/reports/{ID}");
        let read = app.get(&path).token(&app.member).send().await.expect(200);
        let mended = app.patch(&path, &json!({ "reach": "alder-fold" })).token(&app.member)
            .header("if-match", read.header("etag")).send().await.expect(200);
        assert_eq!(mended.json()["state"], "new");
        let accept = json!({ "state": "accepted" });
        app.post(&format!("{path}/decision"), &accept).token(&app.keeper).send().await.expect(200);
        assert_eq!(stored(&app).await, 1);
    }
}
