//! Readings in other people's forms: what is told of them, and what is taken once it is confirmed.

use std::io::Cursor;

use subimago::app::import_foreign::{DateStyle, Form, Said, Scale, Zone, convert, is_ours, told};
use subimago::domain::ReadingTime;

use crate::support::{Club, at, counts, options, slug};

/// An export with lines before the header, a stated offset, degrees Fahrenheit and a last line without a value.
const STATED: &str = "\"Plot Title: under the bridge\"\n\"#\",\"Date Time, GMT-04:00\",\"Temp, \u{b0}F (S/N: 1)\",\"Host Connected\"\n\
    1,05/13/24 01:00:00 PM,50.00,\n2,05/13/24 02:00:00 PM,51.80,\n3,05/13/24 02:10:00 PM,,Logged\n";

/// Semicolons, decimal commas, date and clock apart, and nothing about zone.
const APART: &str = "Logger;17\nDatum;Date;Time;Temp (C)\n1;13.05.2024;13:00;10,5\n2;13.05.2024;14:00;11,25\n";

fn said(change: impl FnOnce(&mut Said)) -> Said {
    let mut said = Said { gauge: Some(slug("bridge")), ..Said::default() };
    change(&mut said);
    said
}

fn csv(bytes: &[u8], form: Form, said: &Said) -> Result<String, String> {
    convert(bytes, form, said, at("2024-06-15T12:00:00Z")).map(|converted| converted.csv)
}

fn lines(bytes: &[u8]) -> String {
    told(bytes).unwrap_or_default().join("\n")
}

#[test]
fn what_a_file_says_of_itself_is_told_with_what_must_be_said() {
    let stated = lines(STATED.as_bytes());
    for words in ["header on line 2, 3 rows", "dates as mdy", "UTC-04:00, by the header", "Fahrenheit by the header"] {
        assert!(stated.contains(words), "{words}: {stated}");
    }
    assert!(stated.ends_with("add --form logger --gauge GAUGE."), "{stated}");
    let apart = lines(b"Date,Clock time,Temp\n05/04/2024,13:00,10.5\n05/06/2024,13:00,10.5\n");
    assert!(apart.ends_with("--dates dmy|mdy --zone ZONE --unit c|f."), "{apart}");
    let several = lines(b"datetime,Water.Temp.C,Air.Temp.C\n2024-05-01 13:00:00,10.5,14.5\n");
    assert!(
        several.contains("\"Water.Temp.C\" or \"Air.Temp.C\"") && several.contains("--columns value_c=NAME"),
        "{several}"
    );
    for unknown in ["", "a,b\n1,2\n", "date,flow\n2024-05-01 13:00,4\n", "date,temp\n2024-05-01,warm\n", "{}", "<html>"]
    {
        assert_eq!(told(unknown.as_bytes()), None, "{unknown:?}");
    }
    assert!(
        is_ours(b"site,date,tmean_c\n") && is_ours(b"\xef\xbb\xbfGauge,at,value_c\n") && !is_ours(STATED.as_bytes())
    );
}

#[test]
fn confirmed_exports_become_our_own_form_line_by_line() {
    let stated = csv(STATED.as_bytes(), Form::Logger, &said(|_| {})).unwrap();
    let expected = "\nsite,at,value_c\nbridge,\"2024-05-13T17:00:00Z\",\"10\"\nbridge,\"2024-05-13T18:00:00Z\",\"11\"\n\
        bridge,\"2024-05-13T18:10:00Z\",\"\"\n";
    assert_eq!(stated, expected);
    let zone = |said: &mut Said| said.zone = Zone::parse("Europe/Paris");
    let apart = APART.replace("Datum;Date", "No;Date");
    let summer = csv(apart.as_bytes(), Form::Logger, &said(zone)).unwrap();
    assert!(summer.contains("bridge,\"2024-05-13T11:00:00Z\",\"10.5\"\n") && summer.contains("\"11.25\""), "{summer}");
    // Latin-1, as many exports are: the degree sign alone is one byte.
    let latin: Vec<u8> = STATED.chars().map(|c| c as u8).collect();
    let converted = convert(&latin, Form::Logger, &said(|_| {}), at("2024-06-15T12:00:00Z")).unwrap();
    assert_eq!((converted.csv.as_str(), converted.notes.len()), (expected, 1));
    let two = b"datetime,Water.Temp.C,Air.Temp.C\n2024-05-01 13:00:00,10.5,14.5\n";
    let water = |said: &mut Said| {
        said.zone = Zone::parse("UTC");
        said.column = Some("Air.Temp.C".to_owned());
    };
    assert!(csv(two, Form::Logger, &said(water)).unwrap().contains("\"14.5\""));
}

#[test]
fn nothing_is_guessed_and_nothing_said_may_contradict_the_file() {
    let bare = b"Date,Time,Temp\n05/04/2024,13:00,10.5\n05/06/2024,13:00,10.5\n";
    let all = |said: &mut Said| {
        (said.style, said.zone, said.scale) = (Some(DateStyle::Dmy), Zone::parse("+01:00"), Some(Scale::Celsius));
    };
    assert!(csv(bare, Form::Logger, &said(all)).unwrap().contains("2024-04-05T12:00:00Z"));
    let refusals: [(&[u8], fn(&mut Said), &str); 9] = [
        (bare, |said| (said.zone, said.scale) = (Zone::parse("UTC"), Some(Scale::Celsius)), "--dates"),
        (bare, |said| (said.style, said.scale) = (Some(DateStyle::Dmy), Some(Scale::Celsius)), "--zone"),
        (bare, |said| (said.style, said.zone) = (Some(DateStyle::Dmy), Zone::parse("UTC")), "--unit"),
        (bare, |said| said.style = Some(DateStyle::Ymd), "cannot be read as ymd"),
        (STATED.as_bytes(), |said| said.scale = Some(Scale::Celsius), "another unit"),
        (STATED.as_bytes(), |said| said.zone = Zone::parse("UTC"), "header says UTC-04:00"),
        (STATED.as_bytes(), |said| said.column = Some("Depth".to_owned()), "--unit"),
        (STATED.as_bytes(), |said| said.gauge = None, "--gauge"),
        (b"a,b\n1,2\n", |_| {}, "no header"),
    ];
    for (bytes, change, words) in refusals {
        let why = csv(bytes, Form::Logger, &said(change)).unwrap_err();
        assert!(why.contains(words), "{words}: {why}");
    }
    for form in [Form::UsgsJson, Form::UsgsTable] {
        assert!(csv(STATED.as_bytes(), form, &said(|_| {})).is_err());
    }
}

#[tokio::test]
async fn a_converted_export_is_imported_and_faults_keep_their_lines() {
    let club = Club::new().await;
    let broken = STATED.replace("51.80", "warm");
    let converted = csv(broken.as_bytes(), Form::Logger, &said(|_| {})).unwrap();
    let refused = club.readings(converted).await;
    assert!(!refused.accepted);
    assert_eq!((refused.faults[0].line, refused.faults[0].value.as_str()), (4, "warm"));
    let good = csv(STATED.as_bytes(), Form::Logger, &said(|_| {})).unwrap();
    let taken = club.readings_from(Box::new(Cursor::new(good.into_bytes())), &options()).await;
    assert_eq!((taken.accepted, counts(&taken)), (true, [2, 0, 1, 0]), "{:?}", taken.faults);
    let stored = club.instants("bridge").await;
    assert_eq!(stored[0].time, ReadingTime::Instant { at: at("2024-05-13T17:00:00Z"), value: 10.0 });
}

#[test]
fn exports_cut_off_or_damaged_anywhere_do_no_harm() {
    for good in [STATED, APART] {
        for end in 0..good.len() {
            let bytes = &good.as_bytes()[..end];
            drop((told(bytes), csv(bytes, Form::Logger, &said(|_| {}))));
        }
        for place in 0..good.len() {
            let mut bytes = good.as_bytes().to_vec();
            for byte in [0_u8, b'"', b',', b';', b'\n', 0xff] {
                bytes[place] = byte;
                drop((told(&bytes), csv(&bytes, Form::Logger, &said(|said| said.zone = Zone::parse("UTC")))));
            }
        }
    }
}
