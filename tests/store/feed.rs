//! Calendar entries.

use subimago::store::feed::{self, FeedEvent};
use subimago::store::{Db, StoreError, meta};

use crate::support::{at, lay_out, on_both, slug};

on_both! {
    an_entry_is_stored_changed_and_withdrawn,
    single_values_are_set_and_read,
    entries_long_withdrawn_are_forgotten,
}

fn event(uid: &str) -> FeedEvent {
    FeedEvent {
        uid: uid.to_owned(),
        watershed: slug("ostrey"),
        content_hash: "h1".to_owned(),
        content: "first".to_owned(),
        sequence: 0,
        changed_at: at(1),
        withdrawn_at: None,
    }
}

async fn an_entry_is_stored_changed_and_withdrawn(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    for uid in ["b", "a"] {
        feed::put_feed_event(&mut tx, &event(uid)).await.expect("stores");
    }
    assert_eq!(feed::feed_events(&mut tx, &slug("ostrey")).await.expect("reads"), [event("a"), event("b")]);
    let withdrawn = FeedEvent {
        content_hash: "h2".to_owned(),
        content: "second".to_owned(),
        sequence: 1,
        changed_at: at(2),
        withdrawn_at: Some(at(2)),
        ..event("b")
    };
    feed::put_feed_event(&mut tx, &withdrawn).await.expect("stores");
    assert_eq!(feed::feed_events(&mut tx, &slug("ostrey")).await.expect("reads"), [event("a"), withdrawn.clone()]);
    let back = feed::put_feed_event(&mut tx, &event("b")).await;
    assert!(matches!(back, Err(StoreError::Conflict { .. })), "a sequence number never goes back");
    assert_eq!(feed::feed_events(&mut tx, &slug("ostrey")).await.expect("reads"), [event("a"), withdrawn]);
}

async fn single_values_are_set_and_read(db: Db) {
    let mut tx = db.write().await.expect("begins");
    assert_eq!(meta::get_meta(&mut tx, "restore_epoch").await.expect("reads"), None);
    meta::set_meta(&mut tx, "restore_epoch", "1").await.expect("sets");
    meta::set_meta(&mut tx, "restore_epoch", "2").await.expect("sets");
    assert_eq!(meta::get_meta(&mut tx, "restore_epoch").await.expect("reads").as_deref(), Some("2"));
    assert_eq!(meta::get_meta(&mut tx, "Restore_epoch").await.expect("reads"), None);
}

async fn entries_long_withdrawn_are_forgotten(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    for (uid, withdrawn_at) in [("a", None), ("b", Some(at(1))), ("c", Some(at(2)))] {
        feed::put_feed_event(&mut tx, &FeedEvent { withdrawn_at, ..event(uid) }).await.expect("stores");
    }
    assert_eq!(feed::drop_withdrawn_events(&mut tx, at(2)).await.expect("drops"), 1);
    let left = feed::feed_events(&mut tx, &slug("ostrey")).await.expect("reads");
    assert_eq!(left.iter().map(|event| &*event.uid).collect::<Vec<_>>(), ["a", "c"]);
}
