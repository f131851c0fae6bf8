//! Two publications at once: the one that knows less may be ready last.

use chrono::TimeDelta;
use subimago::app::publish;
use subimago::store::taxon;

use crate::support::{TestApp, now, on_both, slug};
use crate::water;

/// Publishes one forecast issued `minutes` after the hour.
async fn publish(app: &TestApp, minutes: i64) {
    let mut tx = app.service.db().write().await.expect("writes");
    let fit_id = water::store_fit(&mut tx, "ephemera-danica").await;
    let known = taxon::find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
    let mut forecast = water::forecast(&water::reaches()[0], "ephemera-danica", fit_id, 0);
    forecast.issued_at = now() + TimeDelta::minutes(minutes);
    publish::publish(&mut tx, &slug("ostrey"), &known, &[forecast], now()).await.expect("publishes");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
}

async fn issued(app: &TestApp) -> String {
    let answer = app.get("/v1/watersheds/ostrey/forecasts?taxon=ephemera-danica&reach=mill-meadow").send().await;
    answer.expect(200).json()["items"][0]["issued_at"].as_str().expect("an instant").to_owned()
}

on_both! {
    async fn what_rests_on_less_does_not_replace_what_rests_on_more(app) {
        publish(&app, 3).await;
        let newer = issued(&app).await;
        publish(&app, 2).await;
        assert_eq!(issued(&app).await, newer, "a minute older");
        publish(&app, 4).await;
        let newest = issued(&app).await;
        assert_ne!(newest, newer);
        // What was issued a day ahead was issued by a wrong clock, and must not stand for a day.
        publish(&app, 24 * 60).await;
        assert_ne!(issued(&app).await, newest);
        publish(&app, 4).await;
        assert_eq!(issued(&app).await, newest);
    }
}
