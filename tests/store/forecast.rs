//! Published forecasts.

use std::time::Duration;

use subimago::store::forecast::{self, ForecastFilter, PublishedForecast};
use subimago::store::{Db, StoreError, Tx, fit};
use uuid::Uuid;

use crate::fit::a_fit;
use crate::support::{at, date, lay_out, on_both, slug};

on_both! {
    each_filter_limits,
    publishing_replaces_one_taxon_and_raises_the_generation,
    only_what_belongs_is_published,
    other_processes_hear_of_it_once_it_is_committed,
}

pub(crate) fn published(reach: &str, taxon: &str, season: i32, fit_id: Uuid) -> PublishedForecast {
    PublishedForecast {
        watershed: slug("ostrey"),
        reach: slug(reach),
        taxon: slug(taxon),
        brood: 1,
        season,
        fit_id,
        issued_at: at(3),
        data_as_of: date(2027, 5, 3),
        etag: format!("{reach}-{season}"),
        document_json: format!(r#"{{"season":{season}}}"#),
    }
}

/// Publishes both taxa for both reaches; the rows in list order.
async fn publish_all(tx: &mut Tx) -> Vec<PublishedForecast> {
    lay_out(tx).await;
    let mut all = Vec::new();
    for taxon in ["danica", "rhodani"] {
        let stored = a_fit(taxon, 1);
        fit::insert_fit(tx, &stored).await.expect("stores");
        let rows: Vec<_> = ["alder-fold", "long-pool"]
            .iter()
            .flat_map(|reach| [2027, 2028].map(|season| published(reach, taxon, season, stored.id)))
            .collect();
        forecast::replace_forecasts(tx, &slug("ostrey"), &slug(taxon), &rows).await.expect("stores");
        all.extend(rows);
    }
    all.sort_by_key(|row| (row.reach.clone(), row.taxon.clone(), row.season));
    all
}

async fn each_filter_limits(db: Db) {
    let mut tx = db.write().await.expect("begins");
    let all = publish_all(&mut tx).await;
    let none = ForecastFilter::default();
    let list = async |tx: &mut Tx, filter: ForecastFilter| forecast::forecasts(tx, &filter).await.expect("reads");
    assert_eq!(list(&mut tx, none.clone()).await, all);
    assert_eq!(list(&mut tx, ForecastFilter { watershed: Some(slug("OSTREY")), ..none.clone() }).await, all);
    assert!(list(&mut tx, ForecastFilter { watershed: Some(slug("gone")), ..none.clone() }).await.is_empty());
    assert_eq!(list(&mut tx, ForecastFilter { reach: Some(slug("Alder-Fold")), ..none.clone() }).await, all[..4]);
    let one =
        ForecastFilter { reach: Some(slug("long-pool")), taxon: Some(slug("rhodani")), season: Some(2028), ..none };
    assert_eq!(list(&mut tx, one).await, all[7..]);
}

async fn publishing_replaces_one_taxon_and_raises_the_generation(db: Db) {
    let mut tx = db.write().await.expect("begins");
    assert_eq!(forecast::forecast_generation(&mut tx).await.expect("reads"), 0);
    let all = publish_all(&mut tx).await;
    assert_eq!(forecast::forecast_generation(&mut tx).await.expect("reads"), 2);
    let (ostrey, danica) = (slug("ostrey"), slug("danica"));
    let row = PublishedForecast { document_json: "{}".to_owned(), ..all[0].clone() };
    forecast::replace_forecasts(&mut tx, &ostrey, &danica, std::slice::from_ref(&row)).await.expect("stores");
    assert_eq!(forecast::forecast_generation(&mut tx).await.expect("reads"), 3);
    let now = forecast::forecasts(&mut tx, &ForecastFilter::default()).await.expect("reads");
    let rest = all.iter().filter(|row| row.taxon != danica);
    let mut expected: Vec<_> = rest.cloned().collect();
    expected.insert(0, row);
    assert_eq!(now, expected);
    forecast::replace_forecasts(&mut tx, &ostrey, &danica, &[]).await.expect("stores");
    let now = forecast::forecasts(&mut tx, &ForecastFilter::default()).await.expect("reads");
    assert_eq!(now, expected[1..]);
}

async fn only_what_belongs_is_published(db: Db) {
    let mut tx = db.write().await.expect("begins");
    let all = publish_all(&mut tx).await;
    let (ostrey, rhodani) = (slug("ostrey"), slug("rhodani"));
    let error = forecast::replace_forecasts(&mut tx, &ostrey, &rhodani, &all[..1]).await.expect_err("danica's");
    assert!(matches!(error, StoreError::Conflict { .. }));
    let stray = [PublishedForecast { fit_id: Uuid::new_v4(), taxon: rhodani.clone(), ..all[0].clone() }];
    let error = forecast::replace_forecasts(&mut tx, &ostrey, &rhodani, &stray).await.expect_err("no such fit");
    assert!(matches!(error, StoreError::UnknownReference { what: "fit", .. }));
    let stray = [PublishedForecast { reach: slug("gone"), taxon: rhodani.clone(), ..all[0].clone() }];
    let error = forecast::replace_forecasts(&mut tx, &ostrey, &rhodani, &stray).await.expect_err("no such reach");
    assert!(matches!(error, StoreError::UnknownReference { what: "reach", .. }));
}

/// SQLite has no listener: the generation is what tells.
async fn other_processes_hear_of_it_once_it_is_committed(db: Db) {
    let listener = db.listener().await.expect("listens");
    assert_eq!(listener.is_some(), db.kind() == "PostgreSQL");
    let Some(mut listener) = listener else { return };
    let mut tx = db.write().await.expect("begins");
    publish_all(&mut tx).await;
    let early = tokio::time::timeout(Duration::from_millis(200), listener.published()).await;
    assert!(early.is_err(), "not before the commit");
    tx.commit().await.expect("commits");
    tokio::time::timeout(Duration::from_secs(10), listener.published()).await.expect("in time").expect("hears");
}
