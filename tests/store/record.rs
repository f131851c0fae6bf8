//! Records: versions, keys, "as of".

use chrono::{DateTime, NaiveTime, TimeDelta, Utc};
use subimago::domain::record::Weather;
use subimago::domain::{AbundanceClass, Record, RecordKind, Stage};
use subimago::store::{Counts, Db, StoreError, Tx, record};

use crate::support::{at, date, lay_out, on_both, slug};

on_both! {
    every_field_comes_back_as_it_went_in,
    each_part_of_the_key_sets_records_apart,
    a_correction_is_a_new_version_and_the_old_one_is_kept,
    each_value_makes_a_new_version,
    a_correction_without_known_at_prevails,
    a_record_moved_to_another_taxon_leaves_the_first,
    thousands_of_records_go_in_at_once,
    what_is_not_there_is_named,
}

fn visit() -> Record {
    Record {
        reach: slug("alder-fold"),
        taxon: slug("rhodani"),
        brood: None,
        kind: RecordKind::Visit,
        date_from: Some(date(2027, 5, 1)),
        date_to: date(2027, 5, 1),
        count: None,
        abundance_class: Some(AbundanceClass::Sparse),
        effort: 1.0,
        hours: None,
        stage: None,
        weather: Weather::default(),
        external_id: None,
        known_at: at(1),
        known_assumed: false,
        source: "file:records.csv".to_owned(),
        doubts: Vec::new(),
        exposure_known: true,
    }
}

/// A record with every field set.
fn full() -> Record {
    let clock = |h, m| NaiveTime::from_hms_opt(h, m, 0).expect("valid");
    Record {
        reach: slug("long-pool"),
        taxon: slug("danica"),
        brood: Some(2),
        kind: RecordKind::Trap,
        date_from: Some(date(2027, 5, 1)),
        date_to: date(2027, 5, 8),
        count: Some(u32::MAX),
        abundance_class: Some(AbundanceClass::Heavy),
        effort: 2.5,
        hours: Some((clock(22, 30), clock(1, 15))),
        stage: Some(Stage::Spinner),
        weather: Weather { cloud: Some(0.3), wind_kmh: Some(12.5), air_c: Some(-1.25), rain_mm: Some(0.4) },
        external_id: Some("row 7 \u{e9}".to_owned()),
        known_at: at(9),
        known_assumed: true,
        source: "file:traps.csv".to_owned(),
        doubts: vec!["interval of 200 days".to_owned()],
        exposure_known: false,
    }
}

async fn put(tx: &mut Tx, records: &[Record]) -> (u64, u64, u64) {
    let Counts { created, updated, unchanged } =
        record::put_records(tx, &slug("Ostrey"), records, at(100)).await.expect("stores");
    (created, updated, unchanged)
}

async fn all(tx: &mut Tx, known_by: Option<DateTime<Utc>>) -> Vec<Record> {
    record::records(tx, &slug("ostrey"), None, known_by).await.expect("reads")
}

async fn every_field_comes_back_as_it_went_in(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let unknown_start = Record { kind: RecordKind::Trap, date_from: None, count: Some(0), ..visit() };
    assert_eq!(put(&mut tx, &[full(), visit(), unknown_start.clone()]).await, (3, 0, 0));
    assert_eq!(all(&mut tx, None).await, [unknown_start, visit(), full()], "by day, reach, taxon and key");
    assert_eq!(put(&mut tx, &[full(), visit()]).await, (0, 0, 2));
}

async fn each_part_of_the_key_sets_records_apart(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let clock = |h| NaiveTime::from_hms_opt(h, 0, 0).expect("valid");
    let rows = [
        visit(),
        Record { reach: slug("long-pool"), ..visit() },
        Record { taxon: slug("danica"), ..visit() },
        Record { brood: Some(1), ..visit() },
        Record { brood: Some(2), ..visit() },
        Record { kind: RecordKind::FirstSighting, ..visit() },
        Record { date_from: None, ..visit() },
        Record { date_to: date(2027, 5, 2), ..visit() },
        Record { hours: Some((clock(9), clock(11))), ..visit() },
        Record { hours: Some((clock(9), clock(12))), ..visit() },
        Record { stage: Some(Stage::Dun), ..visit() },
        Record { external_id: Some("a".to_owned()), ..visit() },
        Record { external_id: Some("b".to_owned()), ..visit() },
    ];
    assert_eq!(put(&mut tx, &rows).await, (rows.len() as u64, 0, 0));
    assert_eq!(put(&mut tx, &rows).await, (0, 0, rows.len() as u64));
    let cased = Record { reach: slug("ALDER-FOLD"), taxon: slug("Rhodani"), ..visit() };
    assert_eq!(put(&mut tx, &[cased]).await, (0, 0, 1), "slugs match without regard to case");
}

async fn a_correction_is_a_new_version_and_the_old_one_is_kept(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let second = Record { abundance_class: Some(AbundanceClass::Heavy), known_at: at(5), ..visit() };
    assert_eq!(put(&mut tx, &[visit()]).await, (1, 0, 0));
    assert_eq!(put(&mut tx, &[second.clone()]).await, (0, 1, 0));
    assert_eq!(all(&mut tx, None).await, [second.clone()]);
    assert_eq!(all(&mut tx, Some(at(5))).await, [second.clone()]);
    assert_eq!(all(&mut tx, Some(at(5) - TimeDelta::microseconds(1))).await, [visit()]);
    assert!(all(&mut tx, Some(at(0))).await.is_empty());
    assert_eq!(put(&mut tx, &[visit(), second]).await, (0, 0, 2));
}

async fn each_value_makes_a_new_version(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    put(&mut tx, &[visit()]).await;
    let changed = [
        Record { count: Some(3), ..visit() },
        Record { abundance_class: None, count: Some(3), ..visit() },
        Record { effort: 2.0, ..visit() },
        Record { weather: Weather { cloud: Some(1.0), ..Weather::default() }, ..visit() },
        Record { exposure_known: false, ..visit() },
    ];
    for record in changed {
        assert_eq!(put(&mut tx, &[record.clone()]).await, (0, 1, 0), "{record:?}");
        assert_eq!(all(&mut tx, None).await, [record]);
    }
    let retold = Record {
        source: "file:again.csv".to_owned(),
        doubts: vec!["late".to_owned()],
        ..all(&mut tx, None).await.remove(0)
    };
    assert_eq!(put(&mut tx, &[retold]).await, (0, 0, 1));
}

async fn a_correction_without_known_at_prevails(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    put(&mut tx, &[Record { known_at: at(9), ..visit() }]).await;
    let correction = Record { effort: 3.0, known_at: at(1), known_assumed: true, ..visit() };
    assert_eq!(put(&mut tx, &[correction.clone()]).await, (0, 1, 0));
    assert_eq!(all(&mut tx, None).await, [Record { known_at: at(9), ..correction.clone() }]);
    assert_eq!(put(&mut tx, &[correction]).await, (0, 0, 1));
}

async fn a_record_moved_to_another_taxon_leaves_the_first(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let named = Record { external_id: Some("7".to_owned()), ..visit() };
    let moved = Record { taxon: slug("danica"), known_at: at(5), ..named.clone() };
    put(&mut tx, &[named.clone()]).await;
    assert_eq!(put(&mut tx, &[moved.clone()]).await, (0, 1, 0));
    let of = async |tx: &mut Tx, taxon: &str, known_by| {
        record::records(tx, &slug("ostrey"), Some(&slug(taxon)), known_by).await.expect("reads")
    };
    assert!(of(&mut tx, "rhodani", None).await.is_empty());
    assert_eq!(of(&mut tx, "danica", None).await, [moved]);
    assert_eq!(of(&mut tx, "Rhodani", Some(at(4))).await, [named]);
    assert!(of(&mut tx, "danica", Some(at(4))).await.is_empty());
}

async fn thousands_of_records_go_in_at_once(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let rows: Vec<Record> = (0..3456).map(|n| Record { external_id: Some(n.to_string()), ..visit() }).collect();
    assert_eq!(put(&mut tx, &rows).await, (3456, 0, 0));
    assert_eq!(put(&mut tx, &rows).await, (0, 0, 3456));
    assert_eq!(all(&mut tx, None).await.len(), 3456);
}

async fn what_is_not_there_is_named(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let ostrey = slug("ostrey");
    let stray = [Record { reach: slug("Gone"), ..visit() }];
    let error = record::put_records(&mut tx, &ostrey, &stray, at(9)).await.expect_err("unknown");
    assert!(matches!(&error, StoreError::UnknownReference { what: "reach", slug } if slug == "Gone"));
    let stray = [Record { taxon: slug("Gone"), ..visit() }];
    let error = record::put_records(&mut tx, &ostrey, &stray, at(9)).await.expect_err("unknown");
    assert!(matches!(&error, StoreError::UnknownReference { what: "taxon", slug } if slug == "Gone"));
    let error = record::records(&mut tx, &ostrey, Some(&slug("Gone")), None).await.expect_err("unknown");
    assert!(matches!(error, StoreError::UnknownReference { what: "taxon", .. }));
    let not_a_number = [Record { effort: f64::NAN, ..visit() }];
    let error = record::put_records(&mut tx, &ostrey, &not_a_number, at(9)).await.expect_err("refused");
    assert!(matches!(error, StoreError::Unstorable { .. }), "SQLite would keep it as missing");
}
