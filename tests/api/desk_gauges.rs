//! The desk's gauges: ages and failures told, flags shown and overruled, days entered by hand.

use axum::http::Method;
use serde_json::{Value, json};

use crate::desk::{Desk, well_formed};
use crate::support::{TestApp, on_both};

const GAUGE: &str = "/desk/ostrey/gauges/bridge";
const READINGS: &str = "/v1/watersheds/ostrey/gauges/bridge/readings";

async fn add(app: &TestApp, readings: &Value) {
    app.post(READINGS, &json!({ "readings": readings })).token(&app.keeper).send().await.expect(200);
}

async fn three_days(app: &TestApp) {
    add(
        app,
        &json!([
            { "date": "2026-05-17", "tmean_c": 11.25, "tmin_c": 9.5, "tmax_c": 13 },
            { "date": "2026-05-18", "tmean_c": 19.5, "flag": "suspect" },
            { "date": "2026-05-19", "tmean_c": 3.5, "flag": "bad" },
        ]),
    )
    .await;
}

/// Date, mean and flag of what is stored.
async fn stored(app: &TestApp) -> Vec<(String, f64, String)> {
    let list = app.get(&format!("{READINGS}?from=2026-05-01&to=2026-05-20")).send().await.expect(200).json();
    let rows = list["items"].as_array().expect("items").clone();
    let text = |row: &Value, name: &str| row[name].as_str().expect("a text").to_owned();
    rows.iter().map(|row| (text(row, "date"), row["mean"].as_f64().expect("a number"), text(row, "flag"))).collect()
}

/// Values of the boxes in the table.
fn boxes(html: &str) -> Vec<String> {
    html.split("name=\"row\" value=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().expect("a value").to_owned())
        .collect()
}

on_both! {
    async fn the_list_tells_ages_and_failures(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page("/desk/ostrey/gauges").await;
        well_formed(&page);
        assert!(page.contains("Ostrey Bridge") && page.contains("None"), "{page}");
        three_days(&app).await;
        let change = json!({ "source": "usgs:USGS-01420500" });
        let path = "/v1/watersheds/ostrey/gauges/bridge";
        let tag = app.get(path).send().await.header("etag").to_owned();
        app.patch(path, &change).token(&app.keeper).header("if-match", tag).send().await.expect(200);
        {
            let mut tx = app.service.db().write().await.expect("writes");
            let sync = subimago::store::sync::GaugeSync {
                source: "usgs:USGS-01420500".to_owned(), tried_at: crate::support::now(), done_at: None, fresh_until: None,
                series: Vec::new(), newest_date: None, etag: None, last_modified: None, reread_at: None,
                failure: Some("the service answers <503>".to_owned()), notes: Vec::new(), missing: Vec::new(),
            };
            subimago::store::sync::put_gauge_sync(&mut tx, &crate::support::slug("ostrey"), &crate::support::slug("bridge"), &sync)
                .await.expect("stores");
            tx.commit().await.expect("commits");
        }
        for path in ["/desk/ostrey/gauges", GAUGE] {
            let page = desk.page(path).await;
            assert!(page.contains("19 May 2026, 1 day old"), "{page}");
            assert!(page.contains("the service answers &lt;503&gt;"), "{page}");
        }
    }
}

on_both! {
    async fn readings_are_drawn_and_listed_with_their_flags(app) {
        three_days(&app).await;
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page(GAUGE).await;
        well_formed(&page);
        assert!(page.contains("suspect (1)") && page.contains("bad (1)"), "{page}");
        assert_eq!(page.matches("class=\"mark-suspect\"").count(), 1);
        assert_eq!(page.matches("class=\"mark-bad\"").count(), 1);
        for words in ["11.25 (9.50 to 13.00)", "19.50", "3.50", "flagged suspect by the sender", "17 May 2026"] {
            assert!(page.contains(words), "{words}: {page}");
        }
        assert!(!page.contains("NaN") && !page.contains("inf"));
        let none = desk.page(&format!("{GAUGE}?from=2025-01-01&to=2025-01-31")).await;
        assert!(none.contains("No readings in these days.") && !none.contains("series-line"));
        desk.get(&format!("{GAUGE}?from=x")).await.expect(400);
        desk.get("/desk/ostrey/gauges/nowhere").await.expect(404);
        // Empty fields of the form are no fault, and a question for too much is cut.
        desk.page(&format!("{GAUGE}?quantity=water_temperature&step=day&from=&to=")).await;
        desk.page(&format!("{GAUGE}?from=1900-01-01&to=2026-05-20")).await;
        desk.page(&format!("{GAUGE}?quantity=ice&step=instant")).await;
    }
}

on_both! {
    async fn a_keeper_overrules_flags_as_new_versions(app) {
        three_days(&app).await;
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page(GAUGE).await;
        let keys = boxes(&page);
        assert_eq!(keys.len(), 3);
        // Newest first: bad, suspect, good.
        let action = page.split("form method=\"post\" action=\"").nth(2).expect("a form").split('"').next().expect("its end")
            .replace("&amp;", "&");
        assert!(action.starts_with(GAUGE), "{action}");
        let done = desk.post(&action, &[("form", "overrule"), ("flag", "good"), ("row", &keys[0]), ("row", &keys[1])]).await.expect(303);
        assert!(done.header("location").contains("said=flagged"), "{}", done.header("location"));
        let flags: Vec<String> = stored(&app).await.into_iter().map(|row| row.2).collect();
        assert_eq!(flags, ["good", "good", "good"]);
        assert!(desk.page(GAUGE).await.contains("found good by a keeper"));
        let again = desk.post(&action, &[("form", "overrule"), ("flag", "good"), ("row", &keys[0])]).await.expect(303);
        assert!(again.header("location").contains("said=unchanged"));
        desk.post(&action, &[("form", "overrule"), ("flag", "bad"), ("row", &keys[2])]).await.expect(303);
        assert_eq!(stored(&app).await[0], ("2026-05-17".to_owned(), 11.25, "bad".to_owned()));
        // A value that changed since it was seen is not judged, nor one that never was.
        add(&app, &json!([{ "date": "2026-05-18", "tmean_c": 12 }])).await;
        let late = desk.post(&action, &[("form", "overrule"), ("flag", "bad"), ("row", &keys[1]), ("row", &keys[0])]).await;
        assert!(late.expect(409).text().contains("have changed since"));
        assert_eq!(stored(&app).await[2].2, "good", "none of them");
        let none = desk.post(&action, &[("form", "overrule"), ("flag", "bad")]).await.expect(422).text();
        well_formed(&none);
        assert!(none.contains("needs a ticked reading"));
        desk.post(&action, &[("form", "overrule"), ("flag", "odd"), ("row", &keys[0])]).await.expect(422);
    }
}

on_both! {
    async fn days_of_single_readings_are_judged_by_those(app) {
        add(&app, &json!([
            { "at": "2026-05-19T06:00:00Z", "value_c": 10 }, { "at": "2026-05-19T12:00:00Z", "value_c": 14 },
            { "at": "2026-05-19T18:00:00Z", "value_c": 30.5, "flag": "suspect" },
        ])).await;
        let desk = Desk::open(&app, &app.keeper).await;
        let page = desk.page(GAUGE).await;
        assert!(boxes(&page).is_empty() && page.contains("Its readings"), "{page}");
        let action = format!("{GAUGE}?quantity=water_temperature&step=instant&from=2026-05-19&to=2026-05-19");
        let page = desk.page(&action).await;
        well_formed(&page);
        let keys = boxes(&page);
        assert_eq!(keys.len(), 3);
        assert!(page.contains("19 May 2026, 19:00"), "on the clocks at the water: {page}");
        desk.post(&action, &[("form", "overrule"), ("flag", "good"), ("row", &keys[0])]).await.expect(303);
        assert_eq!(stored(&app).await[0].1, (10.0 + 14.0 + 30.5) / 3.0);
    }
}

on_both! {
    async fn a_day_read_by_hand_is_kept_or_refused_at_its_fields(app) {
        let desk = Desk::open(&app, &app.keeper).await;
        let wish = |date: &'static str, mean: &'static str, low: &'static str| {
            [("form", "hand"), ("date", date), ("mean", mean), ("low", low), ("high", "")]
        };
        let refused = desk.post(GAUGE, &wish("2027-05-19", "12,5", "")).await.expect(422).text();
        assert!(refused.contains("lies in the future") && refused.contains("value=\"12,5\""), "{refused}");
        let refused = desk.post(GAUGE, &wish("2026-05-19", "", "x")).await.expect(422).text();
        well_formed(&refused);
        assert!(refused.contains("id=\"hand-low-error\""), "{refused}");
        let refused = desk.post(GAUGE, &wish("2026-05-19", "", "")).await.expect(422).text();
        assert!(refused.contains("id=\"hand-mean-error\""), "{refused}");
        assert!(stored(&app).await.is_empty());
        desk.post(GAUGE, &wish("2026-05-19", "12,5", "11")).await.expect(303);
        assert_eq!(stored(&app).await, [("2026-05-19".to_owned(), 12.5, "good".to_owned())]);
        let told = desk.post(GAUGE, &[("form", "sync")]).await.expect(409).text();
        assert!(told.contains("names no source that can be asked"), "{told}");
        let list = app.request(Method::GET, "/v1/watersheds/ostrey/gauges/bridge").send().await.expect(200).json();
        assert_eq!(list["readings"][0]["newest"], "2026-05-19");
    }
}

on_both! {
    async fn only_a_source_that_can_be_asked_has_a_button(app) {
        let path = "/v1/watersheds/ostrey/gauges/bridge";
        for (source, asked) in [("invented readings", false), ("usgs:USGS-01420500", true)] {
            let tag = app.get(path).send().await.header("etag").to_owned();
            app.patch(path, &json!({ "source": source })).token(&app.keeper).header("if-match", tag).send().await.expect(200);
            let desk = Desk::open(&app, &app.keeper).await;
            let page = desk.page(GAUGE).await;
            well_formed(&page);
            assert_eq!(page.contains("Ask the source now"), asked, "{source}: {page}");
            assert_eq!(page.contains("This source is no service that can be asked."), !asked, "{source}");
        }
    }
}
