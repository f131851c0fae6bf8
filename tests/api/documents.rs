//! Bodies: every fault at once, whole numbers however written, nothing unknown.

use serde_json::{Value, json};

use crate::support::{TestApp, on_both, pointers};

pub(crate) const KEY: &str = "0123456789abcdef";

pub(crate) fn report(id: &str) -> Value {
    json!({
        "id": id, "watershed": "ostrey", "reach": "mill-meadow",
        "started_at": "2026-05-19T18:00:00+01:00", "ended_at": "2026-05-19T20:00:00+01:00",
        "people": 2, "looked_for": ["ephemera-danica", "baetis-rhodani"], "water_c": 12.5, "sky": "half cloud",
        "note": "by the old sluice, under the leaning ash",
        "sightings": [{ "taxon": "ephemera-danica", "stage": "dun", "abundance_class": "moderate", "count": 7 }],
    })
}

async fn refused(app: &TestApp, body: &Value) -> Value {
    app.post("/v1/reports", body)
        .token(&app.member)
        .header("idempotency-key", KEY)
        .send()
        .await
        .problem(422, "invalid-document")
}

on_both! {
    async fn all_faults_of_a_body_come_in_one_answer(app) {
        let mut body = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
        body["people"] = json!("two");
        body["started_at"] = json!("yesterday");
        body["surprise"] = json!(1);
        body["water_c"] = json!(80);
        body["sightings"][0]["count"] = json!(0);
        body["sightings"][0]["stage"] = json!("larva");
        body["reach"] = json!(null);
        let problem = refused(&app, &body).await;
        assert_eq!(
            pointers(&problem),
            ["#/people", "#/reach", "#/sightings/0/count", "#/sightings/0/stage", "#/started_at", "#/surprise", "#/water_c"]
        );
        for error in problem["errors"].as_array().expect("a list") {
            assert!(error["code"].is_string() && error["detail"].is_string(), "{error}");
        }
    }
}

on_both! {
    async fn faults_that_need_the_database_come_together_too(app) {
        let mut body = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
        body["reach"] = json!("nowhere");
        body["looked_for"] = json!(["ephemera-danica", "no-such-fly"]);
        body["sightings"][0]["taxon"] = json!("no-such-fly-either");
        body["started_at"] = json!("2027-05-19T18:00:00Z");
        body["ended_at"] = json!("2027-05-19T20:00:00Z");
        let problem = refused(&app, &body).await;
        assert_eq!(pointers(&problem), ["#/ended_at", "#/looked_for/1", "#/reach", "#/sightings/0/taxon"]);
    }
}

on_both! {
    async fn members_the_service_sets_itself_are_not_accepted(app) {
        for (member, value) in [("state", json!("accepted")), ("token_id", json!("x")), ("received_at", json!("x"))] {
            let mut body = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
            body[member] = value;
            assert_eq!(pointers(&refused(&app, &body).await), [format!("#/{member}")]);
        }
    }
}

on_both! {
    async fn instants_need_an_offset_that_is_known(app) {
        for instant in ["2026-05-19T18:00:00", "2026-05-19T18:00:00-00:00", "2026-05-19", "1779213600"] {
            let mut body = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
            body["started_at"] = json!(instant);
            assert_eq!(pointers(&refused(&app, &body).await), ["#/started_at"], "{instant}");
        }
    }
}

on_both! {
    async fn whole_numbers_may_be_written_with_a_point(app) {
        let text = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10").to_string()
            .replace("\"people\":2", "\"people\":2.0").replace("\"count\":7", "\"count\":7.0");
        assert!(text.contains("2.0") && text.contains("7.0"));
        let answer = app.request(axum::http::Method::POST, "/v1/reports").token(&app.member)
            .header("idempotency-key", KEY).header("content-type", "application/json").raw(text).send().await.expect(201);
        assert_eq!(answer.json()["people"], 2);
        let mut half = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e11");
        half["people"] = json!(2.5);
        assert_eq!(pointers(&refused(&app, &half).await), ["#/people"]);
    }
}

on_both! {
    async fn a_sighting_names_a_taxon_or_describes_and_none_is_not_a_class_of_something_seen(app) {
        let mut body = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
        body["sightings"] = json!([
            { "stage": "dun" },
            { "taxon": "ephemera-danica", "described": { "length_mm": 6, "colour": "olive" }, "stage": "dun" },
            { "taxon": "ephemera-danica", "stage": "dun", "abundance_class": "none" },
            { "taxon": "ephemera-danica", "stage": "dun", "wing_pads": "dark" },
            { "described": { "length_mm": 6, "colour": "olive" }, "stage": "nymph", "wing_pads": "dark" },
        ]);
        assert_eq!(
            pointers(&refused(&app, &body).await),
            ["#/sightings/0/taxon", "#/sightings/1/described", "#/sightings/2/abundance_class", "#/sightings/3/wing_pads"]
        );
    }
}

on_both! {
    async fn deep_and_odd_bodies_are_refused_with_a_problem(app) {
        let deep = format!("{{\"note\":{}1{}}}", "[".repeat(5000), "]".repeat(5000));
        for (text, status, kind) in [
            (deep.as_str(), 400, "malformed-body"),
            ("{", 400, "malformed-body"),
            ("", 400, "malformed-body"),
            ("[]", 422, "invalid-document"),
            ("null", 422, "invalid-document"),
            ("\"\\ud800\"", 400, "malformed-body"),
        ] {
            app.request(axum::http::Method::POST, "/v1/reports").token(&app.member).header("idempotency-key", KEY)
                .header("content-type", "application/json").raw(text.to_owned()).send().await.problem(status, kind);
        }
        let nested = format!("{{\"note\":{}1{}}}", "[".repeat(60), "]".repeat(60));
        let problem = app.request(axum::http::Method::POST, "/v1/reports").token(&app.member)
            .header("idempotency-key", KEY).header("content-type", "application/json").raw(nested).send().await
            .problem(422, "invalid-document");
        assert_eq!(problem["errors"][0]["code"], "too_deep");
    }
}
