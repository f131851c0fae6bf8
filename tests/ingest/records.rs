//! Files of records that are taken.

use std::fmt::Write as _;
use std::io::Cursor;

use chrono::NaiveTime;
use subimago::domain::RecordKind::{self, FirstSighting, Trap, Visit};
use subimago::domain::{AbundanceClass, Record, Stage};

use crate::support::{Club, at, counts, day, mapped, said};

async fn stored(text: &str) -> Vec<Record> {
    let club = Club::new().await;
    let document = club.records(text).await;
    assert!(document.accepted, "{:?}", said(&document));
    club.stored_records().await
}

#[tokio::test]
async fn kinds_are_told_from_what_a_row_holds() {
    let text = "reach,date_from,date_to,taxon,count,abundance_class,kind,hour_start,hour_end\n\
        bridge,2024-05-01,2024-05-08,olives,4,,,,\n\
        bridge,,2024-05-09,olives,4,,,,\n\
        bridge,2024-05-10,2024-05-10,olives,4,,,,\n\
        bridge,2024-05-11,2024-05-11,olives,4,heavy,,,\n\
        bridge,2024-05-12,2024-05-12,olives,0,,,22:30,01:15\n\
        bridge,2024-05-06,2024-05-13,olives,,sparse,,,\n\
        bridge,2024-05-12,2024-05-14,olives,,,first_sighting,,\n\
        bridge,,2024-05-15,olives,,moderate,,,\n";
    let found = stored(text).await;
    let kinds: Vec<RecordKind> = found.iter().map(|record| record.kind).collect();
    assert_eq!(kinds, [Trap, Trap, Trap, Visit, Visit, Trap, FirstSighting, Visit]);
    assert!(!found[1].exposure_known && found[1].doubts[0].contains("first day out is unknown"));
    assert!(found[0].exposure_known && found[2].exposure_known);
    assert_eq!((found[3].count, found[3].abundance_class), (Some(4), Some(AbundanceClass::Heavy)));
    assert_eq!(found[4].hours, NaiveTime::from_hms_opt(22, 30, 0).zip(NaiveTime::from_hms_opt(1, 15, 0)));
    assert_eq!(found[4].count, Some(0));
    assert_eq!(found[7].date_from, Some(day("2024-05-15")));
    assert_eq!((found[0].known_at, found[0].known_assumed), (at("2024-05-08T22:59:59.999999Z"), true));
    assert!(found.iter().all(|record| record.effort == 1.0));
}

#[tokio::test]
async fn every_column_is_kept() {
    let text = "site,date_from,date_to,taxon,count,kind,effort,hour_start,hour_end,stage,brood,id,known_at,cloud,wind_kmh,air_c,rain_mm\n\
        mill-meadow,2024-05-11,2024-05-11,Ephemera-Danica,7,visit,2,18:00,20:30,spinner,1,L-7,2024-05-12T09:00:00+01:00,0.5,12,17.5,0.3\n";
    let [record] = stored(text).await.try_into().expect("one record");
    assert_eq!((record.reach.as_str(), record.taxon.as_str()), ("mill-meadow", "ephemera-danica"));
    assert_eq!((record.effort, record.stage, record.brood), (2.0, Some(Stage::Spinner), Some(1)));
    assert_eq!((record.external_id.as_deref(), record.known_assumed), (Some("L-7"), false));
    assert_eq!(record.known_at, at("2024-05-12T08:00:00Z"));
    let weather = (record.weather.cloud, record.weather.wind_kmh, record.weather.air_c, record.weather.rain_mm);
    assert_eq!(weather, (Some(0.5), Some(12.0), Some(17.5), Some(0.3)));
}

#[tokio::test]
async fn wrong_values_of_the_optional_columns_are_all_named() {
    let text = "site,date_from,date_to,taxon,count,kind,effort,hour_start,hour_end,stage,brood,cloud,wind_kmh,air_c,rain_mm\n\
        bridge,2024-05-11,2024-05-11,olives,7,trip,0,7:00,25:00,larva,0,40,-1,99,-0.1\n\
        bridge,2024-05-11,2024-05-12,olives,7,visit,1,18:00,,,,,,,\n\
        bridge,2024-05-11,2024-05-11,olives,7,trap,1,18:00,19:00,,,,,,\n\
        bridge,2024-05-12,2024-05-12,olives,0,first_sighting,1,,,,,,,,\n";
    let club = Club::new().await;
    let document = club.records(text).await;
    let at: Vec<(u64, &str)> = document.faults.iter().map(|fault| (fault.line, fault.column.as_str())).collect();
    let columns =
        ["kind", "effort", "hour_start", "hour_end", "stage", "brood", "cloud", "wind_kmh", "air_c", "rain_mm"];
    let expected: Vec<(u64, &str)> = columns
        .iter()
        .map(|column| (2, *column))
        .chain([(3, "hour_end"), (4, "hour_start"), (5, "count"), (5, "date_from")])
        .collect();
    assert_eq!(at, expected, "{:?}", said(&document));
    assert_eq!(document.rejected, 4);
}

#[tokio::test]
async fn a_file_comes_again_unchanged_and_a_correction_is_a_new_version() {
    let club = Club::new().await;
    let text =
        "site,date_from,date_to,taxon,count\nbridge,,2024-05-01,olives,4\nbridge,2024-05-01,2024-05-08,olives,0\n";
    assert_eq!(counts(&club.records(text).await), [2, 0, 0, 0]);
    assert_eq!(counts(&club.records(text).await), [0, 0, 2, 0]);
    let more = "site,date_from,date_to,taxon,count\nbridge,2024-05-08,2024-05-15,olives,9\nbridge,2024-05-15,2024-06-10,olives,9\n";
    assert_eq!(counts(&club.records(more).await), [2, 0, 0, 0]);
    assert_eq!(counts(&club.records(text).await), [0, 0, 2, 0]);
    assert_eq!(counts(&club.records(&*text.replace("olives,0", "olives,1")).await), [0, 1, 1, 0]);
    assert_eq!(club.stored_records().await.len(), 4);
}

#[tokio::test]
async fn dates_filled_down_and_pauses_are_listed_with_their_taxa() {
    let club = Club::new().await;
    let ends = ["04-08", "04-15", "04-22", "04-29", "05-06", "05-07", "05-08", "05-09", "05-16", "06-10"];
    let mut text = "site,date_from,date_to,taxon,count\n".to_owned();
    for pair in ends.windows(2) {
        for taxon in ["olives", "ephemera-danica"] {
            writeln!(text, "bridge,2024-{},2024-{},{taxon},1", pair[0], pair[1]).unwrap();
        }
    }
    let document = club.records(text).await;
    assert_eq!(counts(&document), [18, 0, 0, 0]);
    let mut doubted: Vec<(String, bool)> = document
        .doubtful
        .iter()
        .filter(|record| record.taxon == "olives")
        .map(|record| (record.date_to.to_string(), record.exposure_known))
        .collect();
    doubted.sort();
    let expected =
        [("05-06", true), ("05-07", false), ("05-08", false), ("05-09", false), ("05-16", false), ("06-10", false)];
    assert_eq!(doubted, expected.map(|(date, known)| (format!("2024-{date}"), known)));
    assert_eq!(document.doubtful_count, 12);
    let unknown = club.stored_records().await.iter().filter(|record| !record.exposure_known).count();
    assert_eq!(unknown, 10);
}

#[tokio::test]
async fn letters_of_a_club_are_mapped_and_sample_numbers_may_hold_several_taxa() {
    let club = Club::new().await;
    let options = mapped("column,from,to\nabundance_class,A,sparse\nabundance_class,D,heavy\ntaxon,Baetidae,olives\n");
    let text = "site,date_from,date_to,taxon,count,abundance_class,id\n\
        bridge,2024-05-01,2024-05-01,Baetidae,5,A,S1\nbridge,2024-05-01,2024-05-01,ephemera-danica,5000,D,S1\n";
    for expected in [[2, 0, 0, 0], [0, 0, 2, 0]] {
        let document = club.records_from(Box::new(Cursor::new(text)), &options).await;
        assert_eq!(counts(&document), expected, "{:?}", said(&document));
    }
    let ids: Vec<Option<String>> = club.stored_records().await.into_iter().map(|record| record.external_id).collect();
    assert_eq!(ids, [Some("S1/bridge/ephemera-danica".to_owned()), Some("S1/bridge/olives".to_owned())]);
}
