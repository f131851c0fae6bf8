//! How far gauges have been fetched: one state each, replaced; and the marks that come with readings.

use subimago::domain::{Quality, Quantity, Reading, ReadingTime};
use subimago::store::reading::{daily_readings, put_readings};
use subimago::store::sync::{GaugeSync, find_gauge_sync, put_gauge_sync};
use subimago::store::{Db, Span, StoreError};

use crate::support::{at, date, lay_out, on_both, slug};

on_both! {
    one_state_is_kept_per_gauge,
    marks_of_a_source_are_part_of_what_it_says,
}

async fn one_state_is_kept_per_gauge(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let ostrey = slug("ostrey");
    let mill = slug("mill");
    assert_eq!(find_gauge_sync(&mut tx, &ostrey, &mill).await.expect("reads"), None);
    let first = GaugeSync {
        source: "usgs:USGS-1".to_owned(),
        series: vec!["a".to_owned(), "b".to_owned()],
        newest_date: Some(date(2027, 5, 1)),
        etag: Some("\"m1\"".to_owned()),
        last_modified: None,
        fresh_until: Some(at(7)),
        reread_at: Some(at(1)),
        missing: vec!["2016-01-01/2016-12-31".to_owned()],
        tried_at: at(2),
        done_at: Some(at(2)),
        failure: None,
        notes: vec!["two series".to_owned()],
    };
    let second = GaugeSync {
        series: Vec::new(),
        newest_date: None,
        etag: None,
        tried_at: at(3),
        failure: Some("no answer".to_owned()),
        notes: Vec::new(),
        ..first.clone()
    };
    for state in [first, second] {
        put_gauge_sync(&mut tx, &ostrey, &mill, &state).await.expect("stores");
        assert_eq!(find_gauge_sync(&mut tx, &ostrey, &slug("MILL")).await.expect("reads"), Some(state.clone()));
        let error = put_gauge_sync(&mut tx, &ostrey, &slug("gone"), &state).await.expect_err("unknown");
        assert!(matches!(error, StoreError::UnknownReference { what: "gauge", .. }));
    }
}

async fn marks_of_a_source_are_part_of_what_it_says(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let ostrey = slug("ostrey");
    let reading = |marks: &[&str], hour| Reading {
        gauge: slug("mill"),
        quantity: Quantity::WaterTemperature,
        time: ReadingTime::day(date(2027, 5, 1), 9.0, None, None).expect("valid"),
        quality: Quality::Good,
        reasons: Vec::new(),
        known_at: at(hour),
        known_assumed: false,
        source: "usgs:USGS-1".to_owned(),
        qualifiers: marks.iter().map(|mark| (*mark).to_owned()).collect(),
    };
    for (marks, hour, counts) in [
        (&["Provisional"][..], 1, (1, 0, 0)),
        (&["Approved"], 2, (0, 1, 0)),
        (&["Approved"], 3, (0, 0, 1)),
        (&[], 4, (0, 0, 1)),
    ] {
        let put = put_readings(&mut tx, &ostrey, &[reading(marks, hour)], at(hour)).await.expect("stores");
        assert_eq!((put.created, put.updated, put.unchanged), counts, "{marks:?}");
    }
    let rows = daily_readings(&mut tx, &ostrey, &slug("mill"), None, Span::all()).await.expect("reads");
    assert_eq!(rows, [reading(&["Approved"], 2)]);
}
