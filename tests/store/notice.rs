//! Notices, secret addresses of feeds, and private feeds.

use subimago::domain::{Audience, Notice};
use subimago::store::feed_address::{
    FeedAddress, are_feeds_private, feed_addresses, feed_key_holds, insert_feed_address, revoke_feed_address,
    set_feeds_private,
};
use subimago::store::forecast::forecast_generation;
use subimago::store::notice::{find_notice, insert_notice, notices, replace_notice};
use subimago::store::{Db, StoreError};
use uuid::Uuid;

use crate::support::{at, date, lay_out, on_both, ostrey, slug};

on_both! {
    a_notice_is_stored_replaced_and_never_set_back,
    an_address_opens_its_own_water_until_it_is_revoked,
    feeds_are_made_private_and_open_again,
}

fn notice() -> Notice {
    Notice {
        id: Uuid::from_u128(7),
        watershed: slug("Ostrey"),
        reach: Some(slug("alder-fold")),
        words: "Weed is cut,\n\u{e9}tang; \u{1f41f}".to_owned(),
        from: date(2027, 5, 1),
        until: date(2027, 5, 3),
        audience: Audience::Members,
        sequence: 0,
        created_at: at(0),
        changed_at: at(0),
        withdrawn_at: None,
    }
}

async fn a_notice_is_stored_replaced_and_never_set_back(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let w = slug("ostrey");
    let before = forecast_generation(&mut tx).await.expect("reads");
    insert_notice(&mut tx, &notice()).await.expect("stores");
    assert_eq!(forecast_generation(&mut tx).await.expect("reads"), before + 1, "other processes are told");
    let other = Notice { id: Uuid::from_u128(8), reach: None, from: date(2027, 4, 1), ..notice() };
    insert_notice(&mut tx, &other).await.expect("stores");
    assert_eq!(notices(&mut tx, &w).await.expect("reads"), [other.clone(), notice()]);
    let changed = Notice { words: "x".to_owned(), reach: None, sequence: 1, changed_at: at(1), ..notice() };
    assert!(replace_notice(&mut tx, &changed).await.expect("replaces"));
    assert!(!replace_notice(&mut tx, &changed).await.expect("answers"), "the same version is no news");
    let withdrawn = Notice { sequence: 2, changed_at: at(2), withdrawn_at: Some(at(2)), ..changed.clone() };
    assert!(replace_notice(&mut tx, &withdrawn).await.expect("replaces"));
    assert!(!replace_notice(&mut tx, &changed).await.expect("answers"), "an older version never comes back");
    assert_eq!(find_notice(&mut tx, &w, notice().id).await.expect("reads"), Some(withdrawn));
    let nowhere = Notice { id: Uuid::from_u128(9), reach: Some(slug("nowhere")), ..notice() };
    let refused = insert_notice(&mut tx, &nowhere).await;
    assert!(matches!(refused, Err(StoreError::UnknownReference { what: "reach", .. })), "{refused:?}");
}

async fn an_address_opens_its_own_water_until_it_is_revoked(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let (w, other) = (slug("ostrey"), slug("bourne"));
    let elsewhere = subimago::domain::Watershed { slug: other.clone(), ..ostrey() };
    subimago::store::place::upsert_watershed(&mut tx, &elsewhere).await.expect("stores");
    let address = FeedAddress {
        id: Uuid::from_u128(1),
        watershed: slug("Ostrey"),
        name: "Committee".to_owned(),
        created_at: at(0),
        revoked_at: None,
    };
    insert_feed_address(&mut tx, &address, "aa").await.expect("stores");
    assert!(feed_key_holds(&mut tx, &w, "aa").await.expect("reads"));
    assert!(!feed_key_holds(&mut tx, &w, "ab").await.expect("reads"));
    assert!(!feed_key_holds(&mut tx, &other, "aa").await.expect("reads"));
    assert!(!revoke_feed_address(&mut tx, &other, address.id, at(1)).await.expect("answers"), "another water's");
    assert!(revoke_feed_address(&mut tx, &w, address.id, at(1)).await.expect("revokes"));
    assert!(!revoke_feed_address(&mut tx, &w, address.id, at(2)).await.expect("answers"), "once");
    assert!(!feed_key_holds(&mut tx, &w, "aa").await.expect("reads"));
    let revoked = FeedAddress { revoked_at: Some(at(1)), ..address };
    assert_eq!(feed_addresses(&mut tx, &w).await.expect("reads"), [revoked]);
}

async fn feeds_are_made_private_and_open_again(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let w = slug("ostrey");
    for private in [false, true, true, false] {
        set_feeds_private(&mut tx, &w, private, at(0)).await.expect("sets");
        assert_eq!(are_feeds_private(&mut tx, &w).await.expect("reads"), private);
    }
}
