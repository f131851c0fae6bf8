//! Watersheds, reaches, gauges.

use subimago::domain::{Gauge, Rights, Watershed};
use subimago::store::{Db, StoreError, Upsert, place, record_source};

use crate::support::{gauge, lay_out, on_both, ostrey, reach, slug};

on_both! {
    a_watershed_is_created_updated_or_left,
    a_reach_keeps_its_gauges_in_order,
    a_gauge_is_created_updated_or_left,
    what_is_not_there_is_named,
    terms_are_kept_with_what_they_are_of,
    the_same_slug_may_stand_in_two_watersheds,
}

async fn a_watershed_is_created_updated_or_left(db: Db) {
    let mut tx = db.write().await.expect("begins");
    assert_eq!(place::find_watershed(&mut tx, &slug("ostrey")).await.expect("reads"), None);
    assert_eq!(place::upsert_watershed(&mut tx, &ostrey()).await.expect("stores"), Upsert::Created);
    assert_eq!(place::upsert_watershed(&mut tx, &ostrey()).await.expect("stores"), Upsert::Unchanged);
    let renamed = Watershed { slug: slug("OSTREY"), name: "The Ostrey".to_owned(), ..ostrey() };
    assert_eq!(place::upsert_watershed(&mut tx, &renamed).await.expect("stores"), Upsert::Updated);
    let other = Watershed { slug: slug("Bourne"), ..ostrey() };
    place::upsert_watershed(&mut tx, &other).await.expect("stores");
    tx.commit().await.expect("commits");

    let mut tx = db.read().await.expect("begins");
    let found = place::find_watershed(&mut tx, &slug("oStrEY")).await.expect("reads").expect("is there");
    assert_eq!(found, renamed);
    assert_eq!(found.slug.as_str(), "Ostrey", "the spelling of the first import is kept");
    let all = place::watersheds(&mut tx).await.expect("reads");
    assert_eq!(all.iter().map(|w| w.slug.as_str()).collect::<Vec<_>>(), ["Bourne", "Ostrey"]);
}

async fn a_reach_keeps_its_gauges_in_order(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let first = reach("Glide", &["weir", "mill"]);
    assert_eq!(place::upsert_reach(&mut tx, &slug("ostrey"), &first).await.expect("stores"), Upsert::Created);
    assert_eq!(place::upsert_reach(&mut tx, &slug("ostrey"), &first).await.expect("stores"), Upsert::Unchanged);
    let found = place::find_reach(&mut tx, &slug("ostrey"), &slug("GLIDE")).await.expect("reads");
    assert_eq!(found.as_ref(), Some(&first));
    let mut turned = reach("glide", &["mill", "weir"]);
    turned.elevation_m = None;
    turned.water_type = None;
    assert_eq!(place::upsert_reach(&mut tx, &slug("ostrey"), &turned).await.expect("stores"), Upsert::Updated);
    let all = place::reaches(&mut tx, &slug("ostrey")).await.expect("reads");
    assert_eq!(all, [reach("alder-fold", &["mill"]), turned, reach("Long-Pool", &["mill"])]);
}

async fn a_gauge_is_created_updated_or_left(db: Db) {
    let mut tx = db.write().await.expect("begins");
    place::upsert_watershed(&mut tx, &ostrey()).await.expect("stores");
    let first = gauge("Mill");
    assert_eq!(place::upsert_gauge(&mut tx, &slug("ostrey"), &first).await.expect("stores"), Upsert::Created);
    assert_eq!(place::upsert_gauge(&mut tx, &slug("ostrey"), &first).await.expect("stores"), Upsert::Unchanged);
    let mut bare = gauge("mill");
    (bare.latitude, bare.longitude, bare.source) = (None, None, None);
    assert_eq!(place::upsert_gauge(&mut tx, &slug("ostrey"), &bare).await.expect("stores"), Upsert::Updated);
    assert_eq!(place::find_gauge(&mut tx, &slug("ostrey"), &slug("mill")).await.expect("reads"), Some(bare.clone()));
    assert_eq!(place::find_gauge(&mut tx, &slug("ostrey"), &slug("none")).await.expect("reads"), None);
    assert_eq!(place::gauges(&mut tx, &slug("ostrey")).await.expect("reads"), [bare]);
}

async fn what_is_not_there_is_named(db: Db) {
    let mut tx = db.write().await.expect("begins");
    let error = place::reaches(&mut tx, &slug("Nowhere")).await.expect_err("unknown");
    assert!(matches!(&error, StoreError::UnknownReference { what: "watershed", slug } if slug == "Nowhere"));
    place::upsert_watershed(&mut tx, &ostrey()).await.expect("stores");
    let error = place::upsert_reach(&mut tx, &slug("ostrey"), &reach("glide", &["Gone"])).await.expect_err("unknown");
    assert!(matches!(&error, StoreError::UnknownReference { what: "gauge", slug } if slug == "Gone"));
}

async fn the_same_slug_may_stand_in_two_watersheds(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let other = Watershed { slug: slug("Bourne"), ..ostrey() };
    place::upsert_watershed(&mut tx, &other).await.expect("stores");
    assert_eq!(place::upsert_gauge(&mut tx, &slug("bourne"), &gauge("mill")).await.expect("stores"), Upsert::Created);
    assert_eq!(place::gauges(&mut tx, &slug("bourne")).await.expect("reads").len(), 1);
    assert_eq!(place::gauges(&mut tx, &slug("ostrey")).await.expect("reads").len(), 2);
}

async fn terms_are_kept_with_what_they_are_of(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let rights =
        |licence: &str| Rights { licence: Some(licence.to_owned()), citation: Some("A board, 2027".to_owned()) };
    let lent = Gauge { rights: rights("CC BY 4.0"), ..gauge("weir") };
    assert_eq!(place::upsert_gauge(&mut tx, &slug("ostrey"), &lent).await.expect("stores"), Upsert::Updated);
    let found = place::find_gauge(&mut tx, &slug("ostrey"), &slug("weir")).await.expect("reads").expect("is there");
    assert_eq!(found, lent);
    let new = Gauge { slug: slug("ford"), ..lent };
    assert_eq!(place::upsert_gauge(&mut tx, &slug("ostrey"), &new).await.expect("stores"), Upsert::Created);
    assert!(place::gauges(&mut tx, &slug("ostrey")).await.expect("reads").contains(&new));
    for licence in ["CC0", "CC BY 4.0"] {
        record_source::put_rights(&mut tx, &slug("ostrey"), "file:a.csv", &rights(licence)).await.expect("stores");
    }
    let kept = record_source::rights(&mut tx, &slug("ostrey")).await.expect("reads");
    assert_eq!(kept, [("file:a.csv".to_owned(), rights("CC BY 4.0"))].into());
}
