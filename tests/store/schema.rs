//! Both databases have the same tables and columns, of matching types.

use std::collections::BTreeMap;

use sqlx::Row as _;
use subimago::store::Db;
use subimago::store::maintenance::TABLES;

use crate::support::{create_database, drop_database, postgres_server, sqlite_url};

/// Table, column -> type in SQLite's word, may be missing.
type Columns = BTreeMap<(String, String), (String, bool)>;

async fn sqlite_columns(db: &Db) -> Columns {
    const SQL: &str = "SELECT t.name, c.name, c.type, c.\"notnull\" FROM pragma_table_list AS t \
        JOIN pragma_table_info(t.name) AS c WHERE t.schema = 'main' AND t.type = 'table' \
        AND t.name NOT LIKE 'sqlite%' AND t.name NOT LIKE '%sqlx%'";
    let Db::Sqlite { readers, .. } = db else { panic!("SQLite") };
    let rows = sqlx::query(SQL).fetch_all(readers).await.expect("reads");
    let column = |row: sqlx::sqlite::SqliteRow| ((row.get(0), row.get(1)), (row.get(2), row.get::<i64, _>(3) == 0));
    rows.into_iter().map(column).collect()
}

async fn postgres_columns(db: &Db) -> Columns {
    const SQL: &str = "SELECT table_name::text, column_name::text, data_type::text, is_nullable = 'YES', \
        collation_name::text FROM information_schema.columns \
        WHERE table_schema = current_schema() AND table_name NOT LIKE '%sqlx%'";
    let Db::Postgres(pool) = db else { panic!("PostgreSQL") };
    let rows = sqlx::query(SQL).fetch_all(pool).await.expect("reads");
    let column = |row: sqlx::postgres::PgRow| {
        let kind: String = row.get(2);
        let collation: Option<String> = row.get(4);
        let word = match (kind.as_str(), collation.as_deref()) {
            ("bigint", None) => "INTEGER",
            ("double precision", None) => "REAL",
            ("bytea", None) => "BLOB",
            ("text", Some("C")) => "TEXT",
            other => panic!("{other:?} is none of the shared types"),
        };
        ((row.get(0), row.get(1)), (word.to_owned(), row.get(3)))
    };
    rows.into_iter().map(column).collect()
}

#[tokio::test]
async fn both_databases_have_the_same_columns() {
    let Some(server) = postgres_server() else { return };
    let folder = tempfile::tempdir().expect("temporary folder");
    let sqlite = Db::connect(&sqlite_url(&folder.path().join("test.db"))).await.expect("connects");
    let (name, url) = create_database(&server).await;
    let postgres = Db::connect(&url).await.expect("connects");
    sqlite.migrate().await.expect("migrates");
    postgres.migrate().await.expect("migrates");
    let (ours, theirs) = (sqlite_columns(&sqlite).await, postgres_columns(&postgres).await);
    sqlite.close().await;
    postgres.close().await;
    drop_database(&server, &name).await;
    assert!(ours.len() > 150, "the query sees the columns");
    assert_eq!(ours, theirs);
}

#[tokio::test]
async fn the_list_of_tables_is_complete() {
    crate::support::on_sqlite(|db| {
        Box::pin(async move {
            let mut found: Vec<String> = sqlite_columns(&db).await.into_keys().map(|(table, _)| table).collect();
            found.dedup();
            let mut listed = TABLES.to_vec();
            listed.sort_unstable();
            assert_eq!(found, listed);
        })
    })
    .await;
}

#[test]
fn both_databases_have_the_same_migrations() {
    let names = |folder: &str| {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("migrations").join(folder);
        let entries = std::fs::read_dir(path).expect("is there");
        let mut names: Vec<_> = entries.map(|entry| entry.expect("reads").file_name()).collect();
        names.sort();
        names
    };
    assert!(!names("sqlite").is_empty());
    assert_eq!(names("sqlite"), names("postgres"));
}
