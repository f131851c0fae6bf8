//! Counting, checking, copying.

use subimago::store::maintenance::{TABLES, table_counts};
use subimago::store::{Db, StoreError, place};

use crate::support::{contract, lay_out, on_sqlite, ostrey, sqlite_url};

contract! {
    async fn every_table_is_counted(db) {
        let mut tx = db.write().await.expect("begins");
        lay_out(&mut tx).await;
        let counts = table_counts(&mut tx).await.expect("counts");
        assert_eq!(counts.iter().map(|(name, _)| name.as_str()).collect::<Vec<_>>(), TABLES);
        let of = |table: &str| counts.iter().find(|(name, _)| name == table).expect("is counted").1;
        assert_eq!((of("watershed"), of("reach"), of("gauge"), of("watershed_taxon"), of("report")), (1, 2, 2, 2, 0));
    }
}

contract! {
    async fn a_sound_database_has_no_faults(db) {
        assert!(db.integrity_faults().await.expect("checks").is_empty());
    }
}

contract! {
    async fn a_copy_holds_what_was_committed(db) {
        let mut tx = db.write().await.expect("begins");
        lay_out(&mut tx).await;
        tx.commit().await.expect("commits");
        let folder = tempfile::tempdir().expect("temporary folder");
        let path = folder.path().join("it's a copy.db");
        if db.kind() == "PostgreSQL" {
            let error = db.copy_to(&path).await.expect_err("has its own tools");
            assert!(matches!(error, StoreError::Unsupported { database: "PostgreSQL", .. }));
            return;
        }
        let mut unfinished = db.write().await.expect("begins");
        place::upsert_watershed(&mut unfinished, &subimago::domain::Watershed { name: "x".to_owned(), ..ostrey() })
            .await
            .expect("stores");
        db.copy_to(&path).await.expect("copies while a writer is at work");
        drop(unfinished);
        assert!(db.copy_to(&path).await.is_err(), "a file that is there is not written over");
        let copy = Db::connect(&sqlite_url(&path)).await.expect("connects");
        let (mut a, mut b) = (db.read().await.expect("begins"), copy.read().await.expect("begins"));
        let counted = table_counts(&mut a).await.expect("counts");
        assert_eq!(table_counts(&mut b).await.expect("counts"), counted);
        assert_eq!(place::watersheds(&mut b).await.expect("reads")[0].name, "River Ostrey");
        drop(b);
        assert!(copy.integrity_faults().await.expect("checks").is_empty());
        copy.close().await;
    }
}

#[tokio::test]
async fn an_orphan_is_a_fault() {
    on_sqlite(|db| {
        Box::pin(async move {
            let Db::Sqlite { writer, .. } = &db else { panic!("SQLite") };
            let mut connection = writer.acquire().await.expect("acquires");
            for sql in ["PRAGMA foreign_keys = OFF", "INSERT INTO watershed_taxon VALUES (7, 7)"] {
                sqlx::query(sql).execute(&mut *connection).await.expect("runs");
            }
            drop(connection);
            assert_eq!(db.integrity_faults().await.expect("checks").len(), 1);
        })
    })
    .await;
}
