//! Calendar entries.

use subimago::store::feed::{self, FeedEvent};
use subimago::store::{StoreError, meta};

use crate::support::{at, contract, lay_out, slug};

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

contract! {
    async fn an_entry_is_stored_changed_and_withdrawn(db) {
        let mut tx = db.write().await.expect("begins");
        lay_out(&mut tx).await;
        assert_eq!(feed::find_feed_event(&mut tx, "b").await.expect("reads"), None);
        for uid in ["b", "a"] {
            feed::put_feed_event(&mut tx, &event(uid)).await.expect("stores");
        }
        assert_eq!(feed::find_feed_event(&mut tx, "b").await.expect("reads"), Some(event("b")));
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
        assert_eq!(feed::find_feed_event(&mut tx, "b").await.expect("reads"), Some(withdrawn));
    }
}

contract! {
    async fn single_values_are_set_and_read(db) {
        let mut tx = db.write().await.expect("begins");
        assert_eq!(meta::get_meta(&mut tx, "restore_epoch").await.expect("reads"), None);
        meta::set_meta(&mut tx, "restore_epoch", "1").await.expect("sets");
        meta::set_meta(&mut tx, "restore_epoch", "2").await.expect("sets");
        assert_eq!(meta::get_meta(&mut tx, "restore_epoch").await.expect("reads").as_deref(), Some("2"));
        assert_eq!(meta::get_meta(&mut tx, "Restore_epoch").await.expect("reads"), None);
    }
}
