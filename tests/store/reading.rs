//! Readings: versions, "as of", bulk.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use subimago::domain::{Quality, Quantity, Reading, ReadingTime};
use subimago::store::reading::{self, NewestReading};
use subimago::store::{Counts, Db, Span, StoreError, Tx};

use crate::support::{at, date, lay_out, on_both, slug};

on_both! {
    a_day_comes_back_as_it_went_in,
    an_instant_comes_back_as_it_went_in,
    a_correction_is_a_new_version_and_the_old_one_is_kept,
    quality_alone_makes_a_new_version,
    fetching_the_same_value_again_later_changes_nothing,
    fetching_again_does_not_undo_a_correction,
    a_value_known_earlier_than_thought_is_a_new_version,
    a_correction_without_known_at_prevails,
    equal_rows_of_one_call_count_once,
    dates_limit_what_is_read,
    the_newest_reading_of_every_gauge_is_known,
    an_unknown_gauge_is_named_and_nothing_is_stored,
    thousands_of_rows_go_in_at_once,
}

fn day(date: NaiveDate, tmean_c: f64, known_at: DateTime<Utc>) -> Reading {
    Reading {
        gauge: slug("mill"),
        quantity: Quantity::WaterTemperature,
        time: ReadingTime::day(date, tmean_c, Some(tmean_c - 1.1), Some(tmean_c + 0.7)).expect("valid"),
        quality: Quality::Good,
        reasons: Vec::new(),
        known_at,
        known_assumed: false,
        source: "file:a.csv".to_owned(),
        qualifiers: Vec::new(),
    }
}

fn assumed(reading: Reading) -> Reading {
    Reading { known_assumed: true, ..reading }
}

fn instant(when: DateTime<Utc>, value_c: f64) -> Reading {
    Reading { time: ReadingTime::instant(when, value_c).expect("valid"), ..day(date(2027, 5, 1), 9.0, when) }
}

async fn put(tx: &mut Tx, readings: &[Reading]) -> (u64, u64, u64) {
    let Counts { created, updated, unchanged } =
        reading::put_readings(tx, &slug("OSTREY"), readings, at(100)).await.expect("stores");
    (created, updated, unchanged)
}

async fn daily(tx: &mut Tx, known_by: Option<DateTime<Utc>>) -> Vec<Reading> {
    reading::daily_readings(tx, &slug("ostrey"), &slug("Mill"), known_by, Span::all()).await.expect("reads")
}

async fn a_day_comes_back_as_it_went_in(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let mut doubtful = day(date(2027, 5, 2), 0.1 + 0.2, at(3));
    doubtful.quality = Quality::Suspect;
    doubtful.reasons = vec!["rose by 9 degrees in a day".to_owned(), "a \"second\" reason".to_owned()];
    let early = assumed(day(date(1969, 12, 31), -0.5, at(2)));
    assert_eq!(put(&mut tx, &[doubtful.clone(), early.clone()]).await, (2, 0, 0));
    assert_eq!(daily(&mut tx, None).await, [early, doubtful]);
}

async fn an_instant_comes_back_as_it_went_in(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let rows = [instant(at(1), 9.25), instant(at(1) + TimeDelta::microseconds(1), 9.5), instant(at(2), 10.0)];
    assert_eq!(put(&mut tx, &rows).await, (3, 0, 0));
    assert_eq!(put(&mut tx, &rows).await, (0, 0, 3));
    let read = async |tx: &mut Tx, known_by, span| {
        reading::instant_readings(tx, &slug("ostrey"), &slug("mill"), known_by, span).await.expect("reads")
    };
    assert_eq!(read(&mut tx, None, Span::all()).await, rows);
    let span = Span { from: Some(at(1) + TimeDelta::microseconds(1)), to: Some(at(2)) };
    assert_eq!(read(&mut tx, None, span).await, rows[1..], "both ends are included");
    assert_eq!(read(&mut tx, Some(at(1)), Span::all()).await, rows[..1]);
    assert!(daily(&mut tx, None).await.is_empty(), "days and instants are series of their own");
}

async fn a_correction_is_a_new_version_and_the_old_one_is_kept(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let first = day(date(2027, 5, 1), 9.0, at(2));
    let second = day(date(2027, 5, 1), 10.0, at(5));
    assert_eq!(put(&mut tx, std::slice::from_ref(&first)).await, (1, 0, 0));
    assert_eq!(put(&mut tx, &[second.clone()]).await, (0, 1, 0));
    assert_eq!(daily(&mut tx, None).await, [second.clone()]);
    assert_eq!(daily(&mut tx, Some(at(5))).await, [second.clone()], "known at the cut-off is known");
    assert_eq!(daily(&mut tx, Some(at(5) - TimeDelta::microseconds(1))).await, [first.clone()]);
    assert!(daily(&mut tx, Some(at(1))).await.is_empty());
    assert_eq!(put(&mut tx, &[first, second]).await, (0, 0, 2), "the whole history can be put in again");
}

async fn quality_alone_makes_a_new_version(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let first = day(date(2027, 5, 1), 9.0, at(2));
    let spoilt = Reading { quality: Quality::Bad, reasons: vec!["dry".to_owned()], ..first.clone() };
    put(&mut tx, &[first]).await;
    assert_eq!(put(&mut tx, &[spoilt.clone()]).await, (0, 1, 0));
    assert_eq!(daily(&mut tx, None).await, [spoilt], "of equally known versions the later stored one counts");
}

async fn fetching_the_same_value_again_later_changes_nothing(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    put(&mut tx, &[day(date(2027, 5, 1), 9.0, at(2))]).await;
    assert_eq!(put(&mut tx, &[day(date(2027, 5, 1), 9.0, at(9))]).await, (0, 0, 1));
    assert_eq!(daily(&mut tx, Some(at(2))).await.len(), 1, "it stays known from the first time on");
    let other_file = Reading { source: "file:b.csv".to_owned(), ..day(date(2027, 5, 1), 9.0, at(2)) };
    assert_eq!(put(&mut tx, &[other_file]).await, (0, 0, 1));
}

async fn fetching_again_does_not_undo_a_correction(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let fetch = async |tx: &mut Tx, value_c: f64, when: DateTime<Utc>| {
        let sent = Reading { source: "usgs:USGS-1".to_owned(), ..day(date(2027, 5, 1), value_c, when) };
        let counts = reading::put_fetched_readings(tx, &slug("OSTREY"), &[sent], at(100)).await.expect("stores");
        (counts.created, counts.updated, counts.unchanged)
    };
    assert_eq!(fetch(&mut tx, 24.0, at(2)).await, (1, 0, 0));
    let bad = Reading { quality: Quality::Bad, ..day(date(2027, 5, 1), 24.0, at(5)) };
    assert_eq!(put(&mut tx, &[bad.clone()]).await, (0, 1, 0));
    assert_eq!(fetch(&mut tx, 24.0, at(9)).await, (0, 0, 1), "the service has said so before");
    assert_eq!(daily(&mut tx, None).await, [bad]);
    assert_eq!(fetch(&mut tx, 11.0, at(12)).await, (0, 1, 0), "that is news");
    assert_eq!(fetch(&mut tx, 24.0, at(15)).await, (0, 1, 0), "and so is its taking that back");
}

async fn a_value_known_earlier_than_thought_is_a_new_version(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    put(&mut tx, &[day(date(2027, 5, 1), 9.0, at(9))]).await;
    let earlier = day(date(2027, 5, 1), 9.0, at(2));
    assert_eq!(put(&mut tx, &[assumed(earlier.clone())]).await, (0, 0, 1), "an assumption proves nothing");
    assert_eq!(put(&mut tx, &[earlier.clone()]).await, (0, 1, 0));
    assert_eq!(put(&mut tx, &[earlier.clone()]).await, (0, 0, 1));
    assert_eq!(daily(&mut tx, Some(at(3))).await, [earlier]);
}

async fn a_correction_without_known_at_prevails(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    put(&mut tx, &[day(date(2027, 5, 1), 9.0, at(9))]).await;
    let correction = assumed(day(date(2027, 5, 1), 10.0, at(2)));
    assert_eq!(put(&mut tx, &[correction.clone()]).await, (0, 1, 0));
    let shown = Reading { known_at: at(9), ..correction.clone() };
    assert_eq!(daily(&mut tx, None).await, [shown]);
    assert_eq!(put(&mut tx, &[correction]).await, (0, 0, 1));
}

async fn equal_rows_of_one_call_count_once(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let row = day(date(2027, 5, 1), 9.0, at(2));
    let other = day(date(2027, 5, 1), 9.5, at(2));
    assert_eq!(put(&mut tx, &[row.clone(), row, other.clone()]).await, (1, 1, 1));
    assert_eq!(daily(&mut tx, None).await, [other]);
}

async fn dates_limit_what_is_read(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let rows: Vec<Reading> = (1..=9).map(|d| day(date(2027, 5, d), f64::from(d), at(20))).collect();
    put(&mut tx, &rows).await;
    let span = Span { from: Some(date(2027, 5, 3)), to: Some(date(2027, 5, 5)) };
    let (ostrey, mill) = (slug("ostrey"), slug("mill"));
    let read = reading::daily_readings(&mut tx, &ostrey, &mill, None, span).await.expect("reads");
    assert_eq!(read, rows[2..5]);
    let weir = reading::daily_readings(&mut tx, &ostrey, &slug("weir"), None, span).await.expect("reads");
    assert!(weir.is_empty());
}

async fn the_newest_reading_of_every_gauge_is_known(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let none = |gauge| NewestReading { gauge: slug(gauge), day: None, instant: None };
    let newest = reading::newest_readings(&mut tx, &slug("ostrey")).await.expect("reads");
    assert_eq!(newest, [none("mill"), none("weir")]);
    put(&mut tx, &[day(date(2027, 5, 3), 9.0, at(9)), day(date(2027, 5, 2), 9.0, at(9)), instant(at(4), 9.0)]).await;
    let newest = reading::newest_readings(&mut tx, &slug("ostrey")).await.expect("reads");
    let mill = NewestReading { day: Some(date(2027, 5, 3)), instant: Some(at(4)), ..none("mill") };
    assert_eq!(newest, [mill, none("weir")]);
}

async fn an_unknown_gauge_is_named_and_nothing_is_stored(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let stray = Reading { gauge: slug("Gone"), ..day(date(2027, 5, 2), 9.0, at(2)) };
    let rows = [day(date(2027, 5, 1), 9.0, at(2)), stray];
    let error = reading::put_readings(&mut tx, &slug("ostrey"), &rows, at(9)).await.expect_err("unknown");
    assert!(matches!(&error, StoreError::UnknownReference { what: "gauge", slug } if slug == "Gone"));
    assert!(daily(&mut tx, None).await.is_empty());
}

/// More than one chunk of comparison, many statements, rows in no order, a tie over the chunk's edge.
async fn thousands_of_rows_go_in_at_once(db: Db) {
    let mut tx = db.write().await.expect("begins");
    lay_out(&mut tx).await;
    let minute = |n: i64| at(0) + TimeDelta::minutes(n);
    let mut rows: Vec<Reading> =
        (0..12_345_i64).map(|n| (n * 7919) % 12_345).map(|n| instant(minute(n), 5.0 + (n as f64) / 1000.0)).collect();
    rows.push(instant(minute(4999), 1.0));
    assert_eq!(put(&mut tx, &rows).await, (12_345, 1, 0));
    rows.pop();
    rows[0] = instant(minute(0), 99.0);
    assert_eq!(put(&mut tx, &rows).await, (0, 2, 12_343), "4999 says again what it said first, 0 says another thing");
    let all = Span::all();
    let read = reading::instant_readings(&mut tx, &slug("ostrey"), &slug("mill"), None, all).await.expect("reads");
    assert_eq!(read.len(), 12_345);
    assert!(read.windows(2).all(|pair| pair[0].known_at < pair[1].known_at), "in order of time");
    assert_eq!(read[0], rows[0]);
    tx.commit().await.expect("commits");
}
