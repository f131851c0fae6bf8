//! Calendar entries are tentative until what they speak of has been seen, then confirmed.

use std::collections::BTreeMap;

use chrono::TimeDelta;
use serde_json::{Value, json};
use subimago::app::publish;
use subimago::store::taxon::find_taxon;

use crate::documents::report;
use crate::support::{TestApp, now, on_both, slug};
use crate::water;

const ID: &str = "018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10";

/// Publishes the insect, `shift` days later than usual, `hours` after the moment of all tests.
async fn publish(app: &TestApp, shift: i64, hours: i64) {
    let mut tx = app.service.db().write().await.expect("writes");
    let fit_id = water::store_fit(&mut tx, "ephemera-danica").await;
    let known = find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
    let forecasts: Vec<_> =
        water::reaches().iter().map(|reach| water::forecast(reach, "ephemera-danica", fit_id, shift)).collect();
    let at = now() + TimeDelta::hours(hours);
    publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, at).await.expect("publishes");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

/// Status, sequence and description of the start and the peak on a reach.
async fn entries(app: &TestApp, reach: &str) -> BTreeMap<String, (String, u32, String)> {
    let path = format!("/calendars/ostrey.ics?taxon=ephemera-danica&reach={reach}&kind=onset,peak");
    let bytes = app.get(&path).send().await.expect(200).bytes;
    assert_eq!(crate::lint::lint(&bytes), Vec::<String>::new());
    let text = String::from_utf8(bytes).expect("UTF-8").replace("\r\n ", "");
    text.split("BEGIN:VEVENT")
        .skip(1)
        .map(|event| {
            let of = |name: &str| {
                let line = event.lines().find_map(|line| line.strip_prefix(name)?.strip_prefix(':'));
                line.unwrap_or_else(|| panic!("{name} in {event}")).to_owned()
            };
            let kind = if of("CATEGORIES").contains("onset") { "onset" } else { "peak" };
            (kind.to_owned(), (of("STATUS"), of("SEQUENCE").parse().expect("a number"), of("DESCRIPTION")))
        })
        .collect()
}

/// A visit of a day in May on which `stage` was seen.
async fn file(app: &TestApp, day: u32, stage: &str) -> Value {
    let mut body = report(ID);
    body["started_at"] = json!(format!("2026-05-{day:02}T18:00:00+01:00"));
    body["ended_at"] = json!(format!("2026-05-{day:02}T20:00:00+01:00"));
    body["sightings"] = json!([{ "taxon": "ephemera-danica", "stage": stage, "abundance_class": "sparse" }]);
    app.post("/v1/reports", &body)
        .token(&app.member)
        .header("idempotency-key", "0123456789abcdef")
        .send()
        .await
        .expect(201)
        .json()
}

async fn decide(app: &TestApp, state: &str) {
    let body = json!({ "state": state, "reason": "x" });
    app.post(&format!("/v1/reports/{ID}/decision"), &body).token(&app.keeper).send().await.expect(200);
}

on_both! {
    async fn a_start_is_confirmed_once_by_an_accepted_report(app) {
        publish(&app, 0, 1).await;
        // Its start is expected from 6 to 16 May on the upper reach.
        file(&app, 12, "dun").await;
        decide(&app, "rejected").await;
        publish(&app, 0, 2).await;
        let (status, sequence, words) = entries(&app, "mill-meadow").await["onset"].clone();
        assert_eq!((status.as_str(), sequence), ("TENTATIVE", 0), "a report that is not accepted: {words}");
        decide(&app, "accepted").await;
        publish(&app, 0, 3).await;
        let all = entries(&app, "mill-meadow").await;
        assert_eq!((all["onset"].0.as_str(), all["onset"].1), ("CONFIRMED", 1), "{all:?}");
        assert!(all["onset"].2.starts_with("Seen here since 12 May 2026.\\n"), "{all:?}");
        assert_eq!((all["peak"].0.as_str(), all["peak"].1), ("TENTATIVE", 0), "its peak is still to come");
        assert_eq!(entries(&app, "alder-fold").await["onset"].0, "TENTATIVE", "another reach");
        for hours in [4, 5] {
            publish(&app, 0, hours).await;
            assert_eq!(entries(&app, "mill-meadow").await["onset"].1, 1, "told once");
        }
        decide(&app, "rejected").await;
        publish(&app, 0, 6).await;
        let (status, sequence, words) = entries(&app, "mill-meadow").await["onset"].clone();
        assert_eq!((status.as_str(), sequence), ("TENTATIVE", 2), "it was an error");
        assert!(!words.contains("Seen here"), "{words}");
    }
}

on_both! {
    async fn nymphs_under_stones_and_days_outside_confirm_nothing(app) {
        publish(&app, 0, 1).await;
        file(&app, 12, "nymph").await;
        decide(&app, "accepted").await;
        publish(&app, 0, 2).await;
        assert_eq!(entries(&app, "mill-meadow").await["onset"].0, "TENTATIVE");
    }
}
