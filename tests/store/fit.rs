//! Fits.

use chrono::NaiveDate;
use subimago::domain::{Fit, Watershed};
use subimago::store::{Db, StoreError, fit, place};
use uuid::Uuid;

use crate::support::{at, date, lay_out, on_both, slug};

on_both! {
    every_field_comes_back_as_it_went_in,
    the_last_stored_fit_is_the_latest,
    a_fit_is_stored_once_and_of_what_is_there,
    fits_of_other_watersheds_with_records_are_found,
    a_fit_goes_when_nothing_can_ask_for_it,
}

/// A fit of `taxon` and `brood`.
pub(crate) fn a_fit(taxon: &str, brood: u8) -> Fit {
    Fit {
        id: Uuid::new_v4(),
        watershed: slug("Ostrey"),
        taxon: slug(taxon),
        brood,
        created_at: at(3),
        through: None,
        records: 120,
        years: 9,
        prior_driven: false,
        weights: [0.1, 0.2, 0.3, 0.4],
        beats_calendar: true,
        widening: Some(1.25),
        warnings: vec!["one year carries half the weight".to_owned()],
        model_json: r#"{"version":1}"#.to_owned(),
    }
}

async fn every_field_comes_back_as_it_went_in(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let hindcast = Fit {
        through: Some(date(2026, 12, 31)),
        prior_driven: true,
        beats_calendar: false,
        widening: None,
        warnings: Vec::new(),
        ..a_fit("danica", 2)
    };
    for stored in [a_fit("rhodani", 1), hindcast] {
        assert_eq!(fit::find_fit(&mut tx, stored.id).await.expect("reads"), None);
        fit::insert_fit(&mut tx, &stored).await.expect("stores");
        assert_eq!(fit::find_fit(&mut tx, stored.id).await.expect("reads"), Some(stored));
    }
}

async fn the_last_stored_fit_is_the_latest(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let (ostrey, rhodani) = (slug("ostrey"), slug("Rhodani"));
    assert_eq!(fit::latest_fit(&mut tx, &ostrey, &rhodani, 1).await.expect("reads"), None);
    let old = Fit { widening: Some(1.5), ..a_fit("rhodani", 1) };
    let new = Fit { created_at: at(1), through: Some(date(2026, 5, 1)), ..a_fit("rhodani", 1) };
    let (second_brood, other) = (a_fit("rhodani", 2), a_fit("danica", 1));
    for stored in [&old, &new, &second_brood, &other] {
        fit::insert_fit(&mut tx, stored).await.expect("stores");
    }
    let latest = fit::latest_fit(&mut tx, &ostrey, &rhodani, 1).await.expect("reads");
    assert_eq!(latest.as_ref(), Some(&new), "even where the clock went back in between");
    let whole = fit::fit_to_publish(&mut tx, &ostrey, &rhodani, 1).await.expect("reads");
    assert_eq!(whole.as_ref(), Some(&old), "a trial on older data is not published");
    let widenings = fit::widenings(&mut tx, &ostrey).await.expect("reads");
    let told: Vec<(&str, u8, f64)> = widenings.iter().map(|(taxon, brood, w)| (taxon.as_str(), *brood, *w)).collect();
    assert_eq!(told, [("danica", 1, 1.25), ("rhodani", 1, 1.5), ("rhodani", 2, 1.25)], "of fits to all data");
    let latest = fit::latest_fits(&mut tx, &ostrey).await.expect("reads");
    assert_eq!(latest, [other.clone(), new.clone(), second_brood.clone()]);
    let mut ids: Vec<Uuid> = latest.iter().map(|fit| fit.id).collect();
    ids.sort_unstable();
    assert_eq!(fit::latest_fit_ids(&mut tx, &ostrey).await.expect("reads"), ids);
    let all = fit::fits(&mut tx, &ostrey, None, 50).await.expect("reads");
    assert_eq!(all, [other, second_brood.clone(), new.clone(), old]);
    let some = fit::fits(&mut tx, &ostrey, Some(&rhodani), 2).await.expect("reads");
    assert_eq!(some, [second_brood, new]);
}

async fn a_fit_is_stored_once_and_of_what_is_there(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let error = fit::insert_fit(&mut tx, &a_fit("gone", 1)).await.expect_err("unknown");
    assert!(matches!(error, StoreError::UnknownReference { what: "taxon", .. }));
    let stored = a_fit("rhodani", 1);
    fit::insert_fit(&mut tx, &stored).await.expect("stores");
    let error = fit::insert_fit(&mut tx, &stored).await.expect_err("is there");
    assert!(matches!(error, StoreError::Conflict { .. }), "{error:?}");
}

async fn fits_of_other_watersheds_with_records_are_found(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let ostrey = place::find_watershed(&mut tx, &slug("ostrey")).await.expect("reads").expect("is there");
    for name in ["Alder", "Birch", "Cedar"] {
        let other = Watershed { slug: slug(name), ..ostrey.clone() };
        place::upsert_watershed(&mut tx, &other).await.expect("stores");
    }
    let of = |watershed: &str, years: u32| Fit { watershed: slug(watershed), years, ..a_fit("rhodani", 1) };
    let full = of("Birch", 9);
    let cut = Fit { through: Some(date(2025, 12, 31)), ..of("Cedar", 7) };
    let all = [of("Ostrey", 14), of("Alder", 12), of("Alder", 5), full.clone(), cut.clone()];
    let empty = Fit { prior_driven: true, ..of("Cedar", 20) };
    for stored in all.iter().chain([&empty]) {
        fit::insert_fit(&mut tx, stored).await.expect("stores");
    }
    let danica = Fit { watershed: slug("Alder"), ..a_fit("danica", 1) };
    fit::insert_fit(&mut tx, &danica).await.expect("stores");
    let elsewhere = ["Alder", "Birch", "Cedar"].map(slug);
    let mut found = async |through: Option<NaiveDate>| {
        let found = fit::fits_with_records(&mut tx, &elsewhere, through).await.expect("reads");
        found.into_iter().map(|fit| fit.id).collect::<Vec<_>>()
    };
    // Not one that was not asked for, not one that was replaced by a fit to fewer years, not one without records.
    assert_eq!(found(None).await, [danica.id, all[2].id, full.id]);
    assert_eq!(found(Some(date(2026, 1, 1))).await, [cut.id]);
    assert!(found(Some(date(2025, 1, 1))).await.is_empty());
    let error = fit::fits_with_records(&mut tx, &[slug("gone")], None).await.expect_err("unknown");
    assert!(matches!(error, StoreError::UnknownReference { what: "watershed", .. }), "{error:?}");
}

async fn a_fit_goes_when_nothing_can_ask_for_it(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let whole = |day: i64| Fit { created_at: at(day), ..a_fit("rhodani", 1) };
    let cut = |day: i64, through: (u32, u32)| Fit { through: Some(date(2026, through.0, through.1)), ..whole(day) };
    let mut stored = Vec::new();
    for (name, fit) in [
        ("replaced", whole(1)),
        ("of another brood", Fit { brood: 2, ..whole(1) }),
        ("published", whole(2)),
        ("replaced by one of an earlier day", cut(2, (5, 1))),
        ("of the earlier day", cut(3, (4, 1))),
        ("of a later day", cut(3, (6, 1))),
        ("replaced just now", whole(4)),
        ("the newest", whole(9)),
    ] {
        fit::insert_fit(&mut tx, &fit).await.expect("stores");
        stored.push((name, fit.id));
    }
    let published = crate::forecast::published("alder-fold", "rhodani", 2026, stored[2].1);
    subimago::store::forecast::replace_forecasts(&mut tx, &slug("ostrey"), &slug("rhodani"), &[published.clone()])
        .await
        .expect("publishes");
    let issues = subimago::store::forecast::newest_issues_by_fit(&mut tx, &slug("ostrey")).await.expect("reads");
    assert_eq!(issues, [(stored[2].1, published.issued_at)]);
    let left = async |tx: &mut subimago::store::Tx| {
        let mut left = Vec::new();
        for (name, id) in &stored {
            if fit::find_fit(tx, *id).await.expect("reads").is_some() {
                left.push(*name);
            }
        }
        left
    };
    assert_eq!(fit::drop_replaced_fits(&mut tx, at(9), 1).await.expect("drops"), 1);
    assert!(!left(&mut tx).await.contains(&"replaced"), "the oldest first");
    assert_eq!(fit::drop_replaced_fits(&mut tx, at(9), 10).await.expect("drops"), 1);
    let kept =
        ["of another brood", "published", "of the earlier day", "of a later day", "replaced just now", "the newest"];
    assert_eq!(left(&mut tx).await, kept);
    assert_eq!(fit::drop_replaced_fits(&mut tx, at(10), 10).await.expect("drops"), 1);
    assert!(!left(&mut tx).await.contains(&"replaced just now"), "a day later");
    assert_eq!(fit::drop_replaced_fits(&mut tx, at(99), 10).await.expect("drops"), 0);
}
