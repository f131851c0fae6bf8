//! Readings that come in move the forecasts without waiting for midnight.

use chrono::Days;
use serde_json::{Value, json};
use subimago::app::{jobs, work};
use subimago::clock::FixedClock;
use subimago::domain::job::{Job, JobState, Kinds};
use subimago::store::job;

use crate::support::{TestApp, date, now, on_both, slug};

const READINGS: &str = "/v1/watersheds/ostrey/gauges/bridge/readings";

/// Sends the days of 2026 from day `from` to day `to` of the year, `warmer` than usual.
async fn send(app: &TestApp, from: u64, to: u64, warmer: f64) {
    let day = |n: u64| {
        let mean = 10.0 - 6.0 * (std::f64::consts::TAU * (n as f64 + 20.0) / 365.0).cos() + warmer;
        json!({ "date": (date(2025, 12, 31) + Days::new(n)).to_string(), "tmean_c": mean })
    };
    let body = json!({ "readings": (from..=to).map(day).collect::<Vec<Value>>() });
    app.post(READINGS, &body).token(&app.keeper).send().await.expect(200);
}

async fn waiting(app: &TestApp) -> Vec<Job> {
    let mut tx = app.service.db().read().await.expect("reads");
    let all = job::jobs(&mut tx, &slug("ostrey"), 100).await.expect("reads");
    all.into_iter().filter(|job| job.state == JobState::Queued).collect()
}

/// Takes the job that waits longest and does it.
async fn work_once(app: &TestApp) -> Result<String, String> {
    let (db, clock) = (app.service.db(), FixedClock(now()));
    let job = work::claim(db, &clock, Kinds::All).await.expect("reads").expect("a job waits");
    let outcome = Box::pin(work::execute(db, &clock, &job, None, None)).await;
    work::finish(db, &clock, &job, &outcome).await.expect("stores");
    app.service.refresh().await.expect("loads");
    outcome
}

on_both! {
    async fn one_publication_waits_however_many_readings_come(app) {
        send(&app, 100, 110, 0.0).await;
        let first = waiting(&app).await;
        assert_eq!(first.iter().map(|job| job.kind.as_str()).collect::<Vec<_>>(), [jobs::PUBLISH]);
        send(&app, 105, 115, 1.0).await;
        assert_eq!(waiting(&app).await, first, "it waits already");
        work::claim(app.service.db(), &FixedClock(now()), Kinds::All).await.expect("reads").expect("a job");
        assert!(waiting(&app).await.is_empty());
        send(&app, 105, 115, 1.0).await;
        assert!(waiting(&app).await.is_empty(), "nothing new came");
        send(&app, 116, 116, 1.0).await;
        assert_eq!(waiting(&app).await.len(), 1, "the running one may have read its data already");
    }
}

on_both! {
    async fn a_fit_that_waits_publishes_too(app) {
        app.post("/v1/watersheds/ostrey/fits", &json!({})).token(&app.keeper).send().await.expect(202);
        send(&app, 100, 110, 0.0).await;
        assert_eq!(waiting(&app).await.iter().map(|job| job.kind.as_str()).collect::<Vec<_>>(), [jobs::FIT]);
    }
}

on_both! {
    async fn a_publication_is_taken_past_the_long_work_before_it(app) {
        app.post("/v1/watersheds/ostrey/fits", &json!({ "taxon": "ephemera-danica" })).token(&app.keeper).send().await
            .expect(202);
        send(&app, 100, 110, 0.0).await;
        let (db, clock) = (app.service.db(), FixedClock(now()));
        let taken = work::claim(db, &clock, Kinds::Only(jobs::PUBLISH)).await.expect("reads").expect("a job");
        assert_eq!(taken.kind, jobs::PUBLISH);
        assert_eq!(work::claim(db, &clock, Kinds::Only(jobs::PUBLISH)).await.expect("reads"), None);
        assert_eq!(work::claim(db, &clock, Kinds::All).await.expect("reads").expect("the fit").kind, jobs::FIT);
    }
}

on_both! {
    async fn the_forecast_counts_the_new_reading(app) {
        send(&app, 1, 138, 0.0).await;
        app.post("/v1/watersheds/ostrey/fits", &json!({})).token(&app.keeper).send().await.expect(202);
        // The publication that waits before the fit fails: the invented fits hold no model.
        while waiting(&app).await.iter().any(|job| job.kind == jobs::FIT) {
            drop(work_once(&app).await);
        }
        let path = "/v1/watersheds/ostrey/forecasts?reach=mill-meadow&taxon=ephemera-danica";
        let data_as_of = async || app.get(path).send().await.expect(200).json()["items"][0]["data_as_of"].clone();
        assert_eq!(data_as_of().await, "2026-05-18");
        send(&app, 139, 139, 3.0).await;
        while waiting(&app).await.iter().any(|job| job.kind == jobs::PUBLISH) {
            let result = work_once(&app).await.expect("publishes or scores");
            assert!(result.starts_with('{'), "{result}");
        }
        assert_eq!(data_as_of().await, "2026-05-19");
    }
}
