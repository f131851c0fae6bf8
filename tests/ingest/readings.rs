//! Files of readings that are taken.

use std::io::Cursor;

use subimago::app::import::ImportOptions;
use subimago::domain::{Quality, ReadingTime};

use crate::support::{Club, at, columns, counts, day, mapped, options};

#[tokio::test]
async fn days_are_stored_with_what_is_assumed_and_come_again_unchanged() {
    let club = Club::new().await;
    let text =
        "\u{feff}note,tmax_c,date,gauge,tmean_c,tmin_c\r\nx,11,2024-03-30,Bridge,9.5,8\r\ny,,2024-03-31,bridge,10,\r\n";
    let first = club.readings(text).await;
    assert_eq!((counts(&first), first.unknown_columns.clone()), ([2, 0, 0, 0], vec!["note".to_owned()]));
    let stored = club.daily("bridge").await;
    let expected = ReadingTime::day(day("2024-03-30"), 9.5, Some(8.0), Some(11.0)).unwrap();
    assert_eq!(stored[0].time, expected);
    // The end of the day after, which is the day on which the clocks go forward.
    assert_eq!(stored[0].known_at, at("2024-03-31T22:59:59.999999Z"));
    assert!(stored[0].known_assumed && stored[0].quality == Quality::Good);
    assert_eq!(stored[0].source, "file:file.csv");
    assert_eq!(stored[1].time, ReadingTime::day(day("2024-03-31"), 10.0, None, None).unwrap());
    assert_eq!(counts(&club.readings(text).await), [0, 0, 2, 0]);
}

#[tokio::test]
async fn instants_are_stored_and_days_of_another_form_are_ignored() {
    let club = Club::new().await;
    let text = "site,at,value_c,known_at\nweir,2024-05-01T06:00:00+01:00,9.25,2024-05-01T08:00:00Z\nweir,2024-05-01T06:00:00Z,9.5,\n";
    assert_eq!(counts(&club.readings(text).await), [2, 0, 0, 0]);
    let stored = club.instants("weir").await;
    assert_eq!(stored[0].time, ReadingTime::instant(at("2024-05-01T05:00:00Z"), 9.25).unwrap());
    assert_eq!((stored[0].known_at, stored[0].known_assumed), (at("2024-05-01T08:00:00Z"), false));
    assert_eq!((stored[1].known_at, stored[1].known_assumed), (at("2024-05-02T22:59:59.999999Z"), true));
    assert_eq!(counts(&club.readings(text).await), [0, 0, 2, 0]);
    let impossible =
        club.readings("site,at,value_c\nweir,2024-05-02T06:00:00Z,-7\nweir,2024-05-02T07:00:00Z,9\n").await;
    assert_eq!((counts(&impossible), impossible.flagged_count), ([2, 0, 0, 0], 1));
}

#[tokio::test]
async fn other_names_and_codes_are_read() {
    let club = Club::new().await;
    let text = "station,day,mean_degC,state\nB1,2024-05-01,9.5,A\nB1,2024-05-02,9.6,Q\n";
    let map = "column,from,to\nsite,B1,bridge\nstate,A,good\nflag,Q,suspect\n";
    let named = columns("site=station,date=day,tmean_c=mean_degC,flag=state");
    let options = ImportOptions { columns: named.columns, ..mapped(map) };
    let document = club.readings_from(Box::new(Cursor::new(text)), &options).await;
    assert_eq!(counts(&document), [2, 0, 0, 0], "{:?}", document.faults);
    let stored = club.daily("bridge").await;
    assert_eq!(stored[0].quality, Quality::Good);
    assert_eq!(
        (stored[1].quality, stored[1].reasons.as_slice()),
        (Quality::Suspect, ["flagged by the source as suspect".to_owned()].as_slice())
    );
    assert_eq!((document.flagged_count, document.flagged[0].date), (1, day("2024-05-02")));
}

#[tokio::test]
async fn a_map_that_names_a_column_the_file_has_not_is_refused() {
    let club = Club::new().await;
    let options = mapped("column,from,to\nstaet,A,good\n");
    let text = "site,date,tmean_c,flag\nbridge,2024-05-01,9.5,A\n";
    let document = club.readings_from(Box::new(Cursor::new(text)), &options).await;
    assert!(!document.accepted && document.faults[0].value == "staet", "{:?}", document.faults);
}

#[tokio::test]
async fn repeats_and_rows_without_a_value_change_nothing() {
    let club = Club::new().await;
    let text = "site,date,tmean_c\nbridge,2024-05-01,9.5\nbridge,2024-05-01,9.50\nweir,2024-05-01,\n\n";
    let document = club.readings(text).await;
    assert_eq!((document.total, counts(&document)), (3, [1, 0, 2, 0]));
}

#[tokio::test]
async fn another_value_in_a_later_file_is_a_new_version() {
    let club = Club::new().await;
    club.readings("site,date,tmean_c\nbridge,2024-05-01,9.5\nbridge,2024-05-02,9.5\n").await;
    let later = "site,date,tmean_c,known_at\nbridge,2024-05-01,9.7,2024-06-01\nbridge,2024-05-02,9.5,\n";
    assert_eq!(counts(&club.readings(later).await), [0, 1, 1, 0]);
    let stored = club.daily("bridge").await;
    assert_eq!(stored[0].time, ReadingTime::day(day("2024-05-01"), 9.7, None, None).unwrap());
    assert_eq!(stored[0].known_at, at("2024-06-01T22:59:59.999999Z"));
}

#[tokio::test]
async fn what_is_known_cannot_be_known_before_it_was_true() {
    let club = Club::new().await;
    let document = club.readings("site,date,tmean_c,known_at\nbridge,2024-05-01,9.5,2024-04-30\n").await;
    assert!(document.faults[0].reason.contains("before 2024-05-01"), "{:?}", document.faults);
}

#[tokio::test]
async fn impossible_values_are_kept_flagged_listed_and_come_again_unchanged() {
    let club = Club::new().await;
    let text = "site,date,tmean_c,flag\nbridge,2024-01-01,-4.9,\nbridge,2024-01-02,0.5,\nbridge,2024-01-03,41,good\n";
    let document = club.readings(text).await;
    assert_eq!((counts(&document), document.flagged_count), ([3, 0, 0, 0], 2));
    assert_eq!(document.flagged[0].reason, "-4.9 °C is outside -1 to 35 °C");
    let stored: Vec<Quality> = club.daily("bridge").await.iter().map(|reading| reading.quality).collect();
    assert_eq!(stored, [Quality::Suspect, Quality::Good, Quality::Suspect]);
    let again = club.readings(text).await;
    assert_eq!((counts(&again), again.flagged_count), ([0, 0, 3, 0], 2));
}

#[tokio::test]
async fn a_trial_counts_and_stores_nothing() {
    let club = Club::new().await;
    let before = club.content().await;
    let options = ImportOptions { dry_run: true, ..options() };
    let text = "site,date,tmean_c\nbridge,2024-05-01,9.5\n";
    let document = club.readings_from(Box::new(Cursor::new(text)), &options).await;
    assert!(document.accepted && document.dry_run);
    assert_eq!(counts(&document), [1, 0, 0, 0]);
    assert_eq!(club.content().await, before);
}

#[tokio::test]
async fn an_unknown_watershed_is_an_error() {
    let club = Club::empty().await;
    let file = Box::new(Cursor::new("site,date,tmean_c\n"));
    let slug = crate::support::slug("nowhere");
    let error = subimago::app::import::import_readings(&club.db, &club.clock, &slug, file, &options()).await;
    assert_eq!(error.expect_err("unknown").to_string(), "watershed not found");
}
