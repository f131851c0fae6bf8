//! What nobody can ask for any more leaves the database.

use chrono::TimeDelta;
use serde_json::json;
use subimago::app::tidy::{Tidied, tidy};
use subimago::store::forecast::{ForecastFilter, forecasts};
use subimago::store::maintenance::table_counts;

use crate::documents::{KEY, report};
use crate::place_changes::taken;
use crate::support::{now, on_both};
use crate::water;

on_both! {
    async fn the_database_is_tidied_and_serves_as_before(app) {
        let db = app.service.db();
        // Each of these asks for a fit, and a worker ends it.
        for elevation in 0..3 {
            let made = json!({ "slug": format!("weir-{elevation}"), "name": "Weir", "latitude": 51.4, "longitude": -1 });
            app.post("/v1/watersheds/ostrey/reaches", &made).token(&app.keeper).send().await.expect(201);
            assert_eq!(taken(&app).await.len(), 1);
        }
        let filed = report("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e10");
        app.post("/v1/reports", &filed).token(&app.member).header("idempotency-key", KEY).send().await.expect(201);
        let mut tx = db.write().await.expect("begins");
        for _ in 0..250 {
            water::store_fit(&mut tx, "ephemera-danica").await;
        }
        tx.commit().await.expect("commits");
        let served = async || forecasts(&mut db.read().await.expect("begins"), &ForecastFilter::default()).await.expect("reads");
        let before = served().await;
        assert_eq!(tidy(db, now()).await.expect("tidies"), Tidied::default(), "nothing is over yet");
        let later = tidy(db, now() + TimeDelta::days(31)).await.expect("tidies");
        // The first fit is published, the last the newest.
        assert_eq!(later, Tidied { fits: 249, jobs: 3, answers: 1, entries: 0 });
        assert_eq!(tidy(db, now() + TimeDelta::days(31)).await.expect("tidies"), Tidied::default());
        assert_eq!(served().await, before);
        let counts = table_counts(&mut db.read().await.expect("begins")).await.expect("counts");
        let count = |table: &str| counts.iter().find(|(name, _)| name == table).expect("is there").1;
        assert_eq!((count("fit"), count("idempotency"), count("report")), (3 + 1, 0, 1));
    }
}
