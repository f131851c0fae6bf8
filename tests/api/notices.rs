//! Keepers' notices: made, seen by whom, changed, withdrawn.

use axum::http::Method;
use serde_json::{Value, json};

use crate::lint::lint;
use crate::support::{TestApp, on_both, pointers};

const PATH: &str = "/v1/watersheds/ostrey/notices";

/// A notice that holds on the day of all tests.
pub(crate) fn notice() -> Value {
    json!({
        "reach": "mill-meadow", "text": "Weed is cut: expect coloured water, <5 cm clear.", "from_date": "2026-05-19",
        "until_date": "2026-05-22", "audience": "everyone",
    })
}

async fn tell(app: &TestApp, body: &Value) -> String {
    let made = app.post(PATH, body).token(&app.keeper).send().await.expect(201).json();
    made["id"].as_str().expect("an id").to_owned()
}

async fn count(app: &TestApp, path: &str, words: &str) -> usize {
    app.get(path).send().await.expect(200).text().matches(words).count()
}

on_both! {
    async fn a_notice_is_shown_where_it_belongs_until_it_is_withdrawn(app) {
        let id = tell(&app, &notice()).await;
        let words = "expect coloured water, &lt;5 cm clear";
        for page in ["/w/ostrey", "/w/ostrey/reaches/mill-meadow", "/w/ostrey/reaches/mill-meadow/card", "/embed/ostrey"] {
            assert_eq!(count(&app, page, words).await, 1, "{page}");
        }
        assert_eq!(count(&app, "/w/ostrey/reaches/alder-fold", words).await, 0);
        assert_eq!(count(&app, "/embed/ostrey.svg", "coloured").await, 2, "in the words for readers and in the picture");
        assert_eq!(count(&app, "/w/ostrey/digest.txt", "expect coloured water, <5 cm clear").await, 1);
        let calendar = app.get("/calendars/ostrey.ics?kind=notice").send().await.expect(200);
        assert!(lint(&calendar.bytes).is_empty(), "{:?}", lint(&calendar.bytes));
        let text = calendar.text().replace("\r\n ", "");
        assert!(text.contains("SUMMARY:Mill Meadow: Weed is cut: expect coloured water\\, <5 cm\u{2026}"), "{text}");
        assert!(text.contains("STATUS:CONFIRMED") && text.contains("DTSTART;VALUE=DATE:20260519"));
        assert!(text.contains("DTEND;VALUE=DATE:20260523") && text.contains("SEQUENCE:0"));

        let path = format!("{PATH}/{id}");
        let tag = app.get(&path).token(&app.keeper).send().await.expect(200).header("etag").to_owned();
        assert_eq!(app.get(&path).send().await.expect(200).header("etag"), tag, "everyone reads the same version");
        let later = json!({ "until_date": "2026-05-24", "reach": null });
        app.patch(&path, &later).token(&app.keeper).send().await.problem(428, "precondition-required");
        let changed = app.patch(&path, &later).token(&app.keeper).header("if-match", &tag).send().await.expect(200);
        assert_eq!(changed.json()["reach"], Value::Null);
        app.patch(&path, &later).token(&app.keeper).header("if-match", &tag).send().await.problem(412, "precondition-failed");
        assert_eq!(count(&app, "/w/ostrey/reaches/alder-fold", words).await, 1, "now of the whole water");
        let text = app.get("/calendars/ostrey.ics?kind=notice").send().await.expect(200).text();
        assert!(text.contains("SEQUENCE:1") && text.contains("DTEND;VALUE=DATE:20260525"));

        let tag = changed.header("etag");
        app.request(Method::DELETE, &path).token(&app.keeper).header("if-match", tag).send().await.expect(204);
        app.get(&path).send().await.problem(404, "not-found");
        assert_eq!(count(&app, "/w/ostrey", words).await, 0);
        assert_eq!(count(&app, "/feeds/ostrey.atom", "coloured").await, 0);
        let text = app.get("/calendars/ostrey.ics?kind=notice").send().await.expect(200).text();
        assert!(text.contains("SEQUENCE:2") && text.contains("STATUS:CANCELLED"));
    }
}

on_both! {
    async fn notices_for_members_are_shown_to_them_alone(app) {
        let mut body = notice();
        (body["audience"], body["text"]) = (json!("members"), json!("Keys are at the hut."));
        let id = tell(&app, &body).await;
        let listed = async |secret: Option<&str>| {
            let request = app.get(PATH);
            let request = match secret { Some(secret) => request.token(secret), None => request };
            request.send().await.expect(200).json()["items"].as_array().expect("items").len()
        };
        assert_eq!(listed(None).await, 0);
        assert_eq!(listed(Some(&app.stranger)).await, 0);
        assert_eq!(listed(Some(&app.member)).await, 1);
        app.get(PATH).token("subimago_wrong").send().await.problem(401, "unauthenticated");
        app.get(&format!("{PATH}/{id}")).send().await.problem(404, "not-found");
        app.get(&format!("{PATH}/{id}")).token(&app.member).send().await.expect(200);
        for page in [
            "/w/ostrey", "/w/ostrey/reaches/mill-meadow", "/w/ostrey/reaches/mill-meadow/card", "/embed/ostrey",
            "/embed/ostrey.svg", "/w/ostrey/digest.txt", "/calendars/ostrey.ics", "/feeds/ostrey.atom",
        ] {
            assert_eq!(count(&app, page, "Keys are").await, 0, "{page}");
        }
        let wish = json!({ "name": "x" });
        let made = app.post("/v1/watersheds/ostrey/feeds/addresses", &wish).token(&app.keeper).send().await.expect(201);
        let made = made.json();
        for name in ["calendar", "news"] {
            assert!(count(&app, made[name].as_str().expect("a path"), "Keys are").await > 0, "{name}");
        }
    }
}

on_both! {
    async fn notices_of_other_days_wait_or_are_past(app) {
        for (from, until, word) in [("2026-05-21", "2026-05-22", "tomorrow"), ("2026-05-01", "2026-05-19", "yesterday")] {
            let body = json!({ "text": word, "from_date": from, "until_date": until });
            tell(&app, &body).await;
            assert_eq!(count(&app, "/w/ostrey", word).await, 0, "{word}");
            assert_eq!(count(&app, "/calendars/ostrey.ics?kind=notice", &format!("SUMMARY:River Ostrey: {word}")).await, 1);
        }
        let items = app.get(PATH).send().await.expect(200).json();
        assert_eq!(items["items"].as_array().expect("items").len(), 1, "what is past is not listed");
    }
}

on_both! {
    async fn a_faulty_notice_is_refused_with_every_fault(app) {
        let body = json!({
            "reach": "a b", "text": "<b>x</b>", "from_date": "2026-05-20", "until_date": "2026-05-19", "audience": "all",
        });
        let problem = app.post(PATH, &body).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/audience", "#/reach", "#/text", "#/until_date"]);
        let mut body = notice();
        body["reach"] = json!("elsewhere");
        let problem = app.post(PATH, &body).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/reach"]);
        body["text"] = json!("x".repeat(501));
        let problem = app.post(PATH, &body).token(&app.keeper).send().await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), ["#/text"]);
    }
}
