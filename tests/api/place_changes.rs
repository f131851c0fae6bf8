//! What changes of places and taxa set off, and two of them at once.

use std::time::Duration;

use serde_json::{Value, json};
use subimago::store::forecast::{ForecastFilter, forecast_generation, forecasts, replace_forecasts};
use subimago::store::job::{self, Lease};
use subimago::store::{Tx, place, taxon};
use tokio::task::JoinHandle;

use crate::support::{Answer, TestApp, now, on_both, slug};

/// The jobs that wait, which then wait no longer: watershed, kind and arguments.
pub(crate) async fn taken(app: &TestApp) -> Vec<(String, String, String)> {
    let mut tx = app.service.db().write().await.expect("begins");
    let mut all = Vec::new();
    while let Some(job) = job::claim_job(&mut tx, chrono::TimeDelta::seconds(30), now()).await.expect("claims") {
        job::finish_job(&mut tx, Lease::of(&job), Ok("{}"), now()).await.expect("ends");
        all.push((job.watershed.to_string(), job.kind, job.arguments_json));
    }
    tx.commit().await.expect("commits");
    all
}

fn wanted(kind: &str, arguments: &Value) -> Vec<(String, String, String)> {
    vec![("ostrey".to_owned(), kind.to_owned(), arguments.to_string())]
}

/// Sends a change of what stands at `path`, as read now.
async fn change(app: &TestApp, path: &str, patch: &Value) {
    let read = app.get(path).send().await.expect(200);
    let changed = app.patch(path, patch).token(&app.keeper).header("if-match", read.header("etag"));
    changed.send().await.expect(200);
}

on_both! {
    async fn what_forecasts_rest_on_is_fitted_again_and_a_name_is_published(app) {
        let all = json!({});
        let made = json!({ "slug": "weir", "name": "Weir Pool", "latitude": 51.4, "longitude": -1, "gauges": ["bridge"] });
        app.post("/v1/watersheds/ostrey/reaches", &made).token(&app.keeper).send().await.expect(201);
        assert_eq!(taken(&app).await, wanted("fit", &all), "a new reach");
        let made = json!({ "slug": "ford", "name": "Ford" });
        app.post("/v1/watersheds/ostrey/gauges", &made).token(&app.keeper).send().await.expect(201);
        assert_eq!(taken(&app).await, [], "a gauge without readings");
        let (water, gauge) = ("/v1/watersheds/ostrey", "/v1/watersheds/ostrey/gauges/ford");
        let (reach, insect) = ("/v1/watersheds/ostrey/reaches/weir", "/v1/taxa/ephemera-danica");
        let one = json!({ "taxon": "ephemera-danica" });
        for (path, patch, then) in [
            (reach, json!({ "gauges": ["ford", "bridge"] }), wanted("fit", &all)),
            (reach, json!({ "gauges": ["bridge", "ford"] }), wanted("fit", &all)),
            (reach, json!({ "latitude": 51.45 }), wanted("fit", &all)),
            (reach, json!({ "name": "Weir Run" }), wanted("publish", &all)),
            // Where no water is known, altitude moves the usual season.
            (reach, json!({ "elevation_m": 70 }), wanted("fit", &all)),
            (reach, json!({ "water_type": "pool" }), vec![]),
            (gauge, json!({ "latitude": 51.3, "longitude": -1.2 }), wanted("fit", &all)),
            (gauge, json!({ "name": "Old Ford" }), wanted("publish", &all)),
            (gauge, json!({ "source": "by hand" }), vec![]),
            (water, json!({ "time_zone": "Europe/Dublin" }), wanted("fit", &all)),
            (water, json!({ "name": "Ostrey Water" }), vec![]),
            (insect, json!({ "broods": [{ "median_day_of_year": 150, "sd_days": 10 }] }), wanted("fit", &one)),
            (insect, json!({ "base_temp_c": 5, "base_temp_sd": 1 }), wanted("fit", &one)),
            (insect, json!({ "peak_hour": 17 }), wanted("fit", &one)),
            (insect, json!({ "scientific_name": "Ephemera danica Müller" }), wanted("publish", &all)),
            (insect, json!({ "note": "large" }), vec![]),
        ] {
            change(&app, path, &patch).await;
            assert_eq!(taken(&app).await, then, "{patch} of {path}");
        }
    }
}

on_both! {
    async fn a_new_resident_is_fitted(app) {
        let made = json!({ "slug": "ecdyonurus-venosus", "scientific_name": "Ecdyonurus venosus", "rank": "species" });
        app.post("/v1/taxa", &made).token(&app.keeper).send().await.expect(201);
        assert_eq!(taken(&app).await, [], "it lives nowhere yet");
        change(&app, "/v1/taxa/ecdyonurus-venosus", &json!({ "peak_hour": 14 })).await;
        assert_eq!(taken(&app).await, [], "it lives nowhere yet");
        let resident = json!({ "taxon": "ecdyonurus-venosus" });
        app.post("/v1/watersheds/ostrey/taxa", &resident).token(&app.keeper).send().await.expect(201);
        assert_eq!(taken(&app).await, wanted("fit", &resident));
        app.post("/v1/watersheds/ostrey/taxa", &resident).token(&app.keeper).send().await.expect(200);
        assert_eq!(taken(&app).await, [], "it lived there already");
    }
}

/// Ends the writing that requests wait for, once they have come as far as they can; how these were answered, in order.
async fn let_go(busy: Tx, waiting: Vec<JoinHandle<Answer>>) -> Vec<u16> {
    tokio::time::sleep(Duration::from_millis(300)).await;
    busy.commit().await.expect("commits");
    let mut answers = Vec::new();
    for one in waiting {
        answers.push(one.await.expect("runs").status.as_u16());
    }
    answers.sort_unstable();
    answers
}

on_both! {
    async fn of_two_changes_of_one_version_at_once_one_is_refused(app) {
        for path in [
            "/v1/watersheds/ostrey",
            "/v1/watersheds/ostrey/reaches/mill-meadow",
            "/v1/watersheds/ostrey/gauges/bridge",
            "/v1/taxa/ephemera-danica",
        ] {
            let tag = app.get(path).send().await.expect(200).header("etag").to_owned();
            let member = if path.contains("taxa") { "note" } else { "name" };
            // While somebody else writes, both come as far as they can.
            let mut busy = app.service.db().write().await.expect("begins");
            place::hold_watershed(&mut busy, &slug("ostrey")).await.expect("holds");
            taxon::hold_taxon(&mut busy, &slug("ephemera-danica")).await.expect("holds");
            let both: Vec<_> = ["A", "B"].iter().map(|new| {
                let request = app.patch(path, &json!({ member: new })).token(&app.keeper).header("if-match", &tag);
                tokio::spawn(request.send())
            }).collect();
            assert_eq!(let_go(busy, both).await, [200, 412], "{path}");
        }
    }
}

on_both! {
    async fn of_two_reaches_of_one_slug_made_at_once_one_is_refused(app) {
        let mut busy = app.service.db().write().await.expect("begins");
        place::hold_watershed(&mut busy, &slug("ostrey")).await.expect("holds");
        let both: Vec<_> = ["A", "B"].iter().map(|name| {
            let body = json!({ "slug": "weir", "name": name, "latitude": 51.4, "longitude": -1 });
            tokio::spawn(app.post("/v1/watersheds/ostrey/reaches", &body).token(&app.keeper).send())
        }).collect();
        assert_eq!(let_go(busy, both).await, [201, 409]);
    }
}

on_both! {
    async fn a_change_that_is_stored_is_not_told_as_a_failure(app) {
        // Nothing can be served anew while one published document cannot be read.
        let mut tx = app.service.db().write().await.expect("begins");
        let mut broken = forecasts(&mut tx, &ForecastFilter::default()).await.expect("reads");
        broken.retain(|forecast| forecast.taxon == slug("ephemera-danica"));
        broken[0].document_json = "not JSON".to_owned();
        broken[0].etag = "of another text".to_owned();
        replace_forecasts(&mut tx, &slug("ostrey"), &slug("ephemera-danica"), &broken).await.expect("stores");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect_err("cannot be read");
        let notice = json!({ "text": "Weed cut on Tuesday.", "from_date": "2026-05-20", "until_date": "2026-05-26" });
        app.post("/v1/watersheds/ostrey/notices", &notice).token(&app.keeper).send().await.expect(201);
        let made = json!({ "slug": "ford", "name": "Ford" });
        app.post("/v1/watersheds/ostrey/gauges", &made).token(&app.keeper).send().await.expect(201);
        change(&app, "/v1/watersheds/ostrey/gauges/bridge", &json!({ "name": "New Bridge" })).await;
    }
}

on_both! {
    async fn other_processes_are_told_of_changed_places(app) {
        let count = async || {
            forecast_generation(&mut app.service.db().read().await.expect("begins")).await.expect("reads")
        };
        let before = count().await;
        change(&app, "/v1/watersheds/ostrey/gauges/bridge", &json!({ "name": "New Bridge" })).await;
        let changed = count().await;
        assert!(changed > before);
        let made = json!({ "slug": "ford", "name": "Ford" });
        app.post("/v1/watersheds/ostrey/gauges", &made).token(&app.keeper).send().await.expect(201);
        let made = count().await;
        assert!(made > changed);
        let setup = "[watershed]\nslug = \"ostrey\"\nname = \"Ostrey Water\"\ntime_zone = \"Europe/London\"\n";
        let options = subimago::app::import::ImportOptions::default();
        let db = app.service.db();
        let told = subimago::app::setup::import_setup(db, setup.as_bytes(), &options).await.expect("imports");
        assert!(told.accepted && told.updated == 1, "{told:?}");
        assert!(count().await > made);
    }
}
