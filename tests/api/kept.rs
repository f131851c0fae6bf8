//! What a publication leaves alone is not read again.

use std::sync::Arc;

use subimago::app::publish;
use subimago::store::taxon;

use crate::support::{TestApp, now, on_both, slug};
use crate::water;

async fn block(app: &TestApp, reach: &str) -> subimago::app::snapshot::Block {
    let snapshot = app.service.snapshot();
    snapshot.forecasts(app.service.db(), &slug("ostrey"), &slug(reach)).await.expect("reads")
}

on_both! {
    async fn forecasts_of_a_reach_stay_in_memory_until_they_change(app) {
        let (meadow, fold) = (block(&app, "mill-meadow").await, block(&app, "alder-fold").await);
        assert!(meadow.len() >= 3);
        app.service.refresh().await.expect("loads");
        assert!(Arc::ptr_eq(&meadow, &block(&app, "mill-meadow").await), "nothing was published");
        let mut tx = app.service.db().write().await.expect("writes");
        let fit_id = water::store_fit(&mut tx, "ephemera-danica").await;
        let known = taxon::find_taxon(&mut tx, &slug("ephemera-danica")).await.expect("reads").expect("known");
        let forecasts = [water::forecast(&water::reaches()[0], "ephemera-danica", fit_id, 5)];
        publish::publish(&mut tx, &slug("ostrey"), &known, &forecasts, now()).await.expect("publishes");
        tx.commit().await.expect("commits");
        app.service.refresh().await.expect("loads");
        // One has another forecast, the other has lost one.
        assert_eq!(block(&app, "mill-meadow").await.len(), meadow.len());
        assert_eq!(block(&app, "alder-fold").await.len(), fold.len() - 1);
        assert!(!Arc::ptr_eq(&meadow, &block(&app, "mill-meadow").await));
    }
}
