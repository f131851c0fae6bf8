//! A database with a small water, and imports into it.

use std::fmt::Write as _;
use std::io::Cursor;

use chrono::{DateTime, NaiveDate, Utc};
use subimago::app::document::ImportDocument;
use subimago::app::import::{ColumnNames, ImportOptions, ReadSeek, import_readings, import_records, read_map};
use subimago::app::setup::import_setup;
use subimago::clock::FixedClock;
use subimago::domain::{Reading, Record, Slug};
use subimago::store::{Db, Span, place, reading, record, taxon};
use tempfile::TempDir;

pub(crate) const WATER: &str = r#"
[watershed]
slug = "ostrey"
name = "River Ostrey"
time_zone = "Europe/London"

[[gauge]]
slug = "bridge"
name = "Bridge"

[[gauge]]
slug = "weir"
name = "Weir"

[[reach]]
slug = "bridge"
name = "Bridge water"
latitude = 52.1
longitude = -2.9

[[reach]]
slug = "mill-meadow"
name = "Mill Meadow"
latitude = 52.2
longitude = -2.9
gauges = ["weir", "bridge"]

[[taxon]]
slug = "ephemera-danica"
scientific_name = "Ephemera danica"
rank = "species"

[[taxon]]
slug = "olives"
scientific_name = "Baetidae"
rank = "family"
"#;

/// A database with [`WATER`], in a folder that goes with it.
pub(crate) struct Club {
    pub(crate) db: Db,
    pub(crate) clock: FixedClock,
    _folder: TempDir,
}

pub(crate) fn slug(text: &str) -> Slug {
    Slug::new(text).unwrap()
}

pub(crate) fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

pub(crate) fn at(text: &str) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339(text).unwrap().to_utc()
}

pub(crate) fn options() -> ImportOptions {
    ImportOptions { file: "file.csv".to_owned(), ..ImportOptions::default() }
}

pub(crate) fn columns(text: &str) -> ImportOptions {
    ImportOptions { columns: ColumnNames::parse(text).unwrap(), ..options() }
}

pub(crate) fn mapped(text: &str) -> ImportOptions {
    ImportOptions { map: read_map(Cursor::new(text.to_owned())).unwrap(), ..options() }
}

impl Club {
    pub(crate) async fn empty() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let db = Db::connect(&format!("sqlite://{}", folder.path().join("club.db").display())).await.unwrap();
        db.migrate().await.unwrap();
        Self { db, clock: FixedClock(at("2024-06-15T12:00:00Z")), _folder: folder }
    }

    pub(crate) async fn new() -> Self {
        let club = Self::empty().await;
        let document = club.setup(WATER).await;
        assert!(document.accepted, "{:?}", document.faults);
        club
    }

    pub(crate) async fn setup(&self, text: &str) -> ImportDocument {
        self.setup_with(text, &options()).await
    }

    pub(crate) async fn setup_with(&self, text: &str, options: &ImportOptions) -> ImportDocument {
        summed(import_setup(&self.db, Cursor::new(text.to_owned()), options).await.unwrap())
    }

    pub(crate) async fn readings_from(&self, file: Box<dyn ReadSeek>, options: &ImportOptions) -> ImportDocument {
        summed(import_readings(&self.db, &self.clock, &slug("OSTREY"), file, options).await.unwrap())
    }

    pub(crate) async fn readings(&self, text: impl Into<Vec<u8>>) -> ImportDocument {
        self.readings_from(Box::new(Cursor::new(text.into())), &options()).await
    }

    pub(crate) async fn records_from(&self, file: Box<dyn ReadSeek>, options: &ImportOptions) -> ImportDocument {
        summed(import_records(&self.db, &self.clock, &slug("ostrey"), file, options).await.unwrap())
    }

    pub(crate) async fn records(&self, text: impl Into<Vec<u8>>) -> ImportDocument {
        self.records_from(Box::new(Cursor::new(text.into())), &options()).await
    }

    /// The latest daily readings of a gauge.
    pub(crate) async fn daily(&self, gauge: &str) -> Vec<Reading> {
        let mut tx = self.db.read().await.unwrap();
        reading::daily_readings(&mut tx, &slug("ostrey"), &slug(gauge), None, Span::all()).await.unwrap()
    }

    /// The latest readings of a gauge at instants.
    pub(crate) async fn instants(&self, gauge: &str) -> Vec<Reading> {
        let mut tx = self.db.read().await.unwrap();
        reading::instant_readings(&mut tx, &slug("ostrey"), &slug(gauge), None, Span::all()).await.unwrap()
    }

    /// The latest records.
    pub(crate) async fn stored_records(&self) -> Vec<Record> {
        let mut tx = self.db.read().await.unwrap();
        record::records(&mut tx, &slug("ostrey"), None, None).await.unwrap()
    }

    /// Everything an import could touch, to be compared before and after.
    pub(crate) async fn content(&self) -> String {
        let mut tx = self.db.read().await.unwrap();
        let mut content = format!("{:?}", place::watersheds(&mut tx).await.unwrap());
        write!(content, "{:?}", place::reaches(&mut tx, &slug("ostrey")).await.unwrap()).unwrap();
        write!(content, "{:?}", place::gauges(&mut tx, &slug("ostrey")).await.unwrap()).unwrap();
        write!(content, "{:?}", taxon::taxa(&mut tx).await.unwrap()).unwrap();
        drop(tx);
        for gauge in ["bridge", "weir"] {
            write!(content, "{:?}{:?}", self.daily(gauge).await, self.instants(gauge).await).unwrap();
        }
        content + &format!("{:?}", self.stored_records().await)
    }
}

/// Holds the rule that every row is counted once.
fn summed(document: ImportDocument) -> ImportDocument {
    let counted = document.created + document.updated + document.unchanged + document.rejected;
    assert_eq!(document.total, counted, "{document:?}");
    document
}

/// What an import did, in four numbers: created, updated, unchanged, rejected.
pub(crate) fn counts(document: &ImportDocument) -> [u64; 4] {
    [document.created, document.updated, document.unchanged, document.rejected]
}

/// The faults as a person reads them.
pub(crate) fn said(document: &ImportDocument) -> Vec<String> {
    document.faults.iter().map(ToString::to_string).collect()
}
