//! Readings of several quantities, keepers who overrule a check, and the state of a gauge.

use chrono::TimeDelta;
use serde_json::{Value, json};
use subimago::domain::{Quality, Quantity, Reading};
use subimago::store::reading::put_readings;
use subimago::store::sync::{GaugeSync, put_gauge_sync};

use crate::support::{TestApp, date, now, on_both, pointers, slug};

const GAUGE: &str = "/v1/watersheds/ostrey/gauges/bridge";
const READINGS: &str = "/v1/watersheds/ostrey/gauges/bridge/readings";

async fn add(app: &TestApp, body: &Value) -> crate::support::Answer {
    app.post(READINGS, body).token(&app.keeper).send().await
}

async fn list(app: &TestApp, query: &str) -> Value {
    app.get(&format!("{READINGS}?from=2026-05-01&to=2026-05-20{query}")).send().await.expect(200).json()["items"]
        .clone()
}

on_both! {
    async fn each_quantity_is_listed_by_itself_with_its_unit(app) {
        let flow = json!({ "quantity": "discharge", "readings": [{ "date": "2026-05-01", "mean": 3.5, "min": 3, "max": 4 }] });
        add(&app, &flow).await.expect(200);
        let air = json!({ "quantity": "air_temperature", "readings": [{ "date": "2026-05-01", "tmean_c": -12.5 }] });
        add(&app, &air).await.expect(200);
        let water = json!({ "readings": [{ "date": "2026-05-01", "tmean_c": 9.5 }] });
        add(&app, &water).await.expect(200);
        let rows = list(&app, "").await;
        assert_eq!((rows.as_array().map(Vec::len), &rows[0]["mean_c"]), (Some(1), &json!(9.5)));
        assert_eq!((&rows[0]["quantity"], &rows[0]["unit"]), (&json!("water_temperature"), &json!("degree_celsius")));
        let rows = list(&app, "&quantity=discharge").await;
        assert_eq!((&rows[0]["mean"], &rows[0]["max"], &rows[0]["mean_c"]), (&json!(3.5), &json!(4.0), &Value::Null));
        assert_eq!(rows[0]["unit"], "cubic_metre_per_second");
        assert_eq!(list(&app, "&quantity=air_temperature").await[0]["mean_c"], -12.5);
        assert_eq!(list(&app, "&quantity=ice").await, json!([]));
        let wrong = app.get(&format!("{READINGS}?quantity=flow")).send().await;
        assert!(wrong.problem(400, "bad-query")["errors"][0]["detail"].as_str().expect("words").contains("discharge"));
    }
}

on_both! {
    async fn values_of_another_quantity_are_refused_where_they_stand(app) {
        let body = json!({ "quantity": "level", "readings": [
            { "date": "2026-05-01", "tmean_c": 1 }, { "at": "2026-05-01T10:00:00Z", "value": 9001 },
            { "at": "2026-05-01T11:00:00Z" }, { "date": "2026-05-02", "mean": 1, "min": 2 }] });
        let problem = add(&app, &body).await.problem(422, "invalid-document");
        assert_eq!(pointers(&problem), [
            "#/readings/0/mean", "#/readings/0/tmean_c", "#/readings/1/value", "#/readings/2/value", "#/readings/3/mean",
        ]);
        let problem = add(&app, &json!({ "quantity": "flow", "readings": [{ "date": "2026-05-01", "mean": 1 }] })).await;
        assert_eq!(pointers(&problem.problem(422, "invalid-document")), ["#/quantity"]);
        let problem = add(&app, &json!({ "readings": [{ "date": "2026-05-01", "mean": 1 }] })).await;
        assert_eq!(pointers(&problem.problem(422, "invalid-document")), ["#/readings/0/mean", "#/readings/0/tmean_c"]);
    }
}

on_both! {
    async fn a_keeper_overrules_a_doubt(app) {
        let reading = Reading {
            gauge: slug("bridge"),
            quantity: Quantity::WaterTemperature,
            time: Quantity::WaterTemperature.day(date(2026, 5, 3), 11.0, None, None).expect("valid"),
            quality: Quality::Suspect,
            reasons: vec!["parts from the other gauges by +0.4 °C a month since about 2026-01-01".to_owned()],
            known_at: now() - TimeDelta::hours(1),
            known_assumed: false,
            source: "usgs:USGS-1".to_owned(),
            qualifiers: Vec::new(),
        };
        let mut tx = app.service.db().write().await.expect("writes");
        put_readings(&mut tx, &slug("ostrey"), &[reading], now()).await.expect("stores");
        tx.commit().await.expect("commits");
        assert_eq!(list(&app, "").await[0]["flag"], "suspect");
        let good = json!({ "readings": [{ "date": "2026-05-03", "tmean_c": 11, "flag": "good" }] });
        assert_eq!(add(&app, &good).await.expect(200).json()["updated"], 1);
        assert_eq!(list(&app, "").await[0]["flag"], "good");
        let mut tx = app.service.db().read().await.expect("reads");
        let all = subimago::store::Span::all();
        let stored = subimago::store::reading::daily_readings(&mut tx, &slug("ostrey"), &slug("bridge"), None, all).await;
        assert_eq!(stored.expect("reads")[0].reasons, ["found good by a keeper"]);
    }
}

on_both! {
    async fn a_gauge_says_how_old_its_readings_are_and_what_went_wrong(app) {
        let before = app.get(GAUGE).send().await.expect(200);
        assert_eq!((&before.json()["readings"], &before.json()["fetching"]), (&json!([]), &Value::Null));
        let tag = before.header("etag").to_owned();
        let named = app.patch(GAUGE, &json!({ "source": "usgs:USGS-1" })).header("if-match", tag).token(&app.keeper);
        named.send().await.expect(200);
        add(&app, &json!({ "readings": [{ "date": "2026-05-01", "tmean_c": 9.5 }] })).await.expect(200);
        let state = GaugeSync {
            newest_date: Some(date(2026, 5, 1)),
            failure: Some("api.waterdata.usgs.gov answered 404: Not Found".to_owned()),
            missing: vec!["2019-01-01/2019-12-31".to_owned()],
            ..GaugeSync::new("usgs:USGS-1".to_owned(), now())
        };
        let mut tx = app.service.db().write().await.expect("writes");
        put_gauge_sync(&mut tx, &slug("ostrey"), &slug("bridge"), &state).await.expect("stores");
        tx.commit().await.expect("commits");
        let read = app.get(GAUGE).send().await.expect(200);
        let gauge = read.json();
        assert_eq!(gauge["slug"], "bridge");
        let water = &gauge["readings"][0];
        assert_eq!((&water["quantity"], &water["newest"]), (&json!("water_temperature"), &json!("2026-05-01")));
        assert_eq!(water["age_days"], (now().date_naive() - date(2026, 5, 1)).num_days());
        assert_eq!(gauge["fetching"]["failure"], "api.waterdata.usgs.gov answered 404: Not Found");
        assert_eq!((&gauge["fetching"]["done_at"], &gauge["fetching"]["missing"][0]), (&Value::Null, &json!("2019-01-01/2019-12-31")));
        // What was read with this state can be changed, and what was read before another edit cannot.
        let tag = read.header("etag").to_owned();
        let rename = |name: &str| app.patch(GAUGE, &json!({ "name": name })).header("if-match", tag.clone()).token(&app.keeper);
        rename("Old Bridge").send().await.expect(200);
        rename("New Bridge").send().await.problem(412, "precondition-failed");
        // What was said of another source is not shown for this one.
        let tag = app.get(GAUGE).send().await.expect(200).header("etag").to_owned();
        app.patch(GAUGE, &json!({ "source": "usgs:USGS-2" })).header("if-match", tag).token(&app.keeper).send().await.expect(200);
        assert_eq!(app.get(GAUGE).send().await.expect(200).json()["fetching"], Value::Null);
    }
}
