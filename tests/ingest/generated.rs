//! Ten thousand generated reports, and as many records, through archives and tables and back.

use std::io::Cursor;

use chrono::{Days, NaiveTime, TimeDelta};
use rand::{RngExt as _, SeedableRng as _};
use rand_pcg::Pcg64;
use subimago::app::export::{self, Vocabulary, reports};
use subimago::domain::record::Weather;
use subimago::domain::report::Described;
use subimago::domain::token::{Role, Token};
use subimago::domain::{AbundanceClass, Record, RecordKind, Report, ReportState, Sighting, Slug, Stage};
use subimago::store::report::insert_report;
use subimago::store::{record, token};
use uuid::Uuid;

use crate::archives::{export, take, told, unpacked};
use crate::support::{Club, at, counts, day, options, said, slug};

const MANY: usize = 10_000;
const SECRET: &str = "leaning ash";

fn of<T: Copy>(rng: &mut Pcg64, list: &[T]) -> T {
    list[rng.random_range(0..list.len())]
}

fn maybe<T>(rng: &mut Pcg64, make: impl FnOnce(&mut Pcg64) -> T) -> Option<T> {
    if rng.random_bool(0.5) { Some(make(rng)) } else { None }
}

const CLASSES: [AbundanceClass; 3] = [AbundanceClass::Sparse, AbundanceClass::Moderate, AbundanceClass::Heavy];
const TAXA: [&str; 2] = ["ephemera-danica", "olives"];
const REACHES: [&str; 2] = ["bridge", "mill-meadow"];

fn stage(rng: &mut Pcg64) -> Stage {
    of(rng, &Stage::WORDS).0
}

fn a_report(rng: &mut Pcg64, token_id: Uuid) -> Report {
    let started_at = at("2019-01-01T00:00:00Z") + TimeDelta::minutes(rng.random_range(0..5 * 365 * 24 * 60));
    let sightings = (0..rng.random_range(0..4)).map(|_| {
        let taxon = if rng.random_bool(0.9) { Some(slug(of(rng, &TAXA))) } else { None };
        let described = taxon.is_none().then(|| Described { length_mm: 6.0, colour: SECRET.to_owned() });
        let (abundance_class, count) =
            (maybe(rng, |rng| of(rng, &CLASSES)), maybe(rng, |rng| rng.random_range(1..987)));
        let behaviour = Some(SECRET.to_owned());
        Sighting { taxon, described, stage: stage(rng), abundance_class, count, wing_pads: None, behaviour }
    });
    let sightings = sightings.collect();
    Report {
        id: Uuid::from_u128(rng.random()),
        watershed: slug("ostrey"),
        reach: slug(of(rng, &REACHES)),
        started_at,
        ended_at: started_at + TimeDelta::minutes(rng.random_range(1..300)),
        people: rng.random_range(1..9),
        looked_for: maybe(rng, |rng| TAXA.into_iter().filter(|_| rng.random_bool(0.5)).map(slug).collect()),
        water_c: Some(12.5),
        sky: Some(SECRET.to_owned()),
        note: Some(SECRET.to_owned()),
        sightings,
        state: if rng.random_bool(0.95) { ReportState::Accepted } else { ReportState::Rejected },
        received_at: started_at + TimeDelta::hours(7),
        token_id,
        version: 1,
    }
}

fn london() -> chrono_tz::Tz {
    chrono_tz::Tz::Europe__London
}

fn of_all(reports: &[Report], make: impl Fn(&Report, chrono_tz::Tz, &[Slug]) -> Vec<Record>) -> Vec<Record> {
    let accepted = reports.iter().filter(|report| report.state == ReportState::Accepted);
    accepted.flat_map(|report| make(report, london(), &TAXA.map(slug))).collect()
}

async fn csv(club: &Club) -> Vec<u8> {
    let mut out = Vec::new();
    export::records(&club.db, &slug("ostrey"), &mut out).await.unwrap();
    out
}

#[tokio::test]
async fn ten_thousand_reports_travel_as_far_as_everyone_may_see_them() {
    let mut rng = Pcg64::seed_from_u64(11);
    let club = Club::new().await;
    let sender = Token {
        id: Uuid::from_u128(7),
        name: SECRET.to_owned(),
        role: Role::Member,
        watersheds: vec![slug("ostrey")],
        created_at: at("2019-01-01T00:00:00Z"),
        expires_at: at("2029-01-01T00:00:00Z"),
        revoked_at: None,
        last_used_date: None,
    };
    let reports: Vec<Report> = (0..MANY).map(|_| a_report(&mut rng, sender.id)).collect();
    let mut tx = club.db.write().await.unwrap();
    token::insert_token(&mut tx, &sender, &[7; 32]).await.unwrap();
    for report in &reports {
        insert_report(&mut tx, report).await.unwrap();
    }
    tx.commit().await.unwrap();

    let archive = export(&club, Vocabulary::Gbif).await;
    for (name, text) in unpacked(&archive) {
        assert!(!text.contains(SECRET) && !text.contains(&sender.id.to_string()), "{name}");
        // The reaches lie at 52.1 and 52.2 degrees north, 2.9 west: only the centres of their cells are told.
        assert!(!text.contains("52.1,") && !text.contains("52.2,") && !text.contains("-2.9,"), "{name}");
    }
    let events = unpacked(&archive)["event.csv"].clone();
    let accepted = reports.iter().filter(|report| report.state == ReportState::Accepted).count();
    assert_eq!(events.lines().count(), accepted + 1, "blank visits count as much, refused ones not");
    assert!(events.contains(",52.205,-2.895,EPSG:4326,1570,0.01,"), "{}", events.lines().nth(1).unwrap());

    let other = Club::new().await;
    let taken = take(&other, archive.clone(), &options()).await;
    assert!(taken.document.accepted, "{:?}", said(&taken.document));
    let expected = of_all(&reports, |report, zone, residents| {
        let mut seen = reports::public(report, zone, residents);
        // What was seen without a class was some at least.
        seen.iter_mut()
            .for_each(|visit| visit.abundance_class = visit.abundance_class.or(Some(AbundanceClass::Sparse)));
        seen
    });
    assert!(expected.len() > MANY);
    assert_eq!(told(other.stored_records().await), told(expected));
    assert_eq!(taken.document.created, taken.document.total);
    assert_eq!(counts(&take(&other, archive, &options()).await.document), [0, 0, taken.document.total, 0]);

    // The club's own copy goes further: hours, people and counts.
    let mut out = Vec::new();
    let rows = export::reports(&club.db, &slug("ostrey"), &mut out).await.unwrap();
    assert!(!String::from_utf8(out.clone()).unwrap().contains(SECRET));
    let copy = Club::new().await;
    let document = copy.records(out).await;
    assert_eq!((said(&document), document.created), (vec![], rows));
    // Hours are written in minutes.
    let minutes = |time: NaiveTime| NaiveTime::parse_from_str(&time.format("%H:%M").to_string(), "%H:%M").unwrap();
    let whole = of_all(&reports, reports::whole).into_iter().map(|visit| {
        let hours = visit.hours.map(|(start, end)| (minutes(start), minutes(end)));
        Record { hours, ..visit }
    });
    assert_eq!(told(copy.stored_records().await), told(whole.collect()));
}

fn a_record(rng: &mut Pcg64, number: usize) -> Record {
    let date_to = day("1990-01-01") + Days::new(rng.random_range(0..12_000));
    let kind = of(rng, &RecordKind::WORDS).0;
    let date_from = match kind {
        RecordKind::Visit => Some(date_to),
        RecordKind::Trap => maybe(rng, |rng| date_to - Days::new(rng.random_range(0..20))),
        RecordKind::FirstSighting => maybe(rng, |rng| date_to - Days::new(rng.random_range(1..20))),
    };
    let class = maybe(rng, |rng| of(rng, &CLASSES));
    let (count, abundance_class) = match (rng.random_range(0..4), kind) {
        (0, RecordKind::Visit) => (None, Some(AbundanceClass::None)),
        (1, RecordKind::Visit) => (Some(0), Some(AbundanceClass::None)),
        (0 | 1, RecordKind::Trap) => (Some(0), None),
        (2, RecordKind::FirstSighting) => (None, class),
        (3, RecordKind::Visit) => (None, class.or(Some(AbundanceClass::Heavy))),
        _ => (Some(rng.random_range(1..5000)), class),
    };
    let minute =
        |rng: &mut Pcg64| NaiveTime::from_hms_opt(rng.random_range(0..12), rng.random_range(0..60), 0).unwrap();
    let hours = maybe(rng, |rng| (minute(rng), minute(rng) + TimeDelta::hours(12)));
    let stated = rng.random_bool(0.3);
    let known_at = subimago::domain::civil::end_of_day(london(), date_to);
    let id = ["=SUM(A1)", "'", "''@x", "a,\"b\"", "-7", "\u{e9} = 1"];
    Record {
        reach: slug(of(rng, &REACHES)),
        taxon: slug(of(rng, &TAXA)),
        brood: maybe(rng, |rng| rng.random_range(1..=9)),
        kind,
        date_from,
        date_to,
        count,
        abundance_class,
        effort: if rng.random_bool(0.5) { 1.0 } else { rng.random_range(0.001..100.0) },
        hours: hours.filter(|_| kind == RecordKind::Visit),
        stage: maybe(rng, stage),
        weather: Weather {
            cloud: maybe(rng, |rng| rng.random_range(0.0..=1.0)),
            wind_kmh: maybe(rng, |rng| rng.random_range(0.0..100.0)),
            air_c: maybe(rng, |rng| rng.random_range(-30.0..40.0)),
            rain_mm: maybe(rng, |rng| rng.random_range(0.0..50.0)),
        },
        external_id: maybe(rng, |rng| format!("{}{number}", of(rng, &id))),
        known_at: if stated {
            known_at + TimeDelta::microseconds(rng.random_range(0..9_999_999_999))
        } else {
            known_at
        },
        known_assumed: !stated,
        source: "file:a.csv".to_owned(),
        doubts: Vec::new(),
        exposure_known: kind != RecordKind::Trap || date_from.is_some(),
    }
}

#[tokio::test]
async fn ten_thousand_records_of_every_kind_come_back_whole() {
    let mut rng = Pcg64::seed_from_u64(12);
    let mut records: Vec<Record> = (0..MANY).map(|number| a_record(&mut rng, number)).collect();
    records.sort_by_key(Record::key);
    records.dedup_by_key(|record| record.key());
    let typed = Club::new().await;
    let mut tx = typed.db.write().await.unwrap();
    record::put_records(&mut tx, &slug("ostrey"), &records, at("2024-06-01T00:00:00Z")).await.unwrap();
    tx.commit().await.unwrap();

    // Through a table: the traps' days are judged on the way in, as of any import.
    let table = csv(&typed).await;
    let club = Club::new().await;
    let document = club.records(table.clone()).await;
    assert_eq!((said(&document), document.created), (vec![], records.len() as u64));
    let unjudged = |record: Record| Record { doubts: Vec::new(), exposure_known: true, ..record };
    let stored = club.stored_records().await;
    assert_eq!(told(stored.iter().cloned().map(unjudged).collect()), told(records.into_iter().map(unjudged).collect()));
    assert_eq!(counts(&club.records(table.clone()).await), [0, 0, document.total, 0]);
    assert_eq!(csv(&club).await, table);
    assert!(table.windows(3).all(|three| !matches!(three, [b',', b'=' | b'@' | b'+', _])), "no formula in any cell");

    // Through archives.
    for vocabulary in [Vocabulary::Gbif, Vocabulary::Tdwg] {
        let other = Club::new().await;
        let taken = take(&other, export(&club, vocabulary).await, &options()).await;
        assert_eq!((said(&taken.document), taken.document.created), (vec![], document.total));
        assert_eq!(told(other.stored_records().await), told(stored.clone()));
    }
}

/// Quantity and its type, size and its unit: each needs the other, in every row of every table.
#[tokio::test]
async fn paired_terms_stand_together_and_every_column_means_a_term() {
    let mut rng = Pcg64::seed_from_u64(13);
    let mut records: Vec<Record> = (0..500).map(|number| a_record(&mut rng, number)).collect();
    records.sort_by_key(Record::key);
    records.dedup_by_key(|record| record.key());
    let club = Club::new().await;
    let mut tx = club.db.write().await.unwrap();
    record::put_records(&mut tx, &slug("ostrey"), &records, at("2024-06-01T00:00:00Z")).await.unwrap();
    tx.commit().await.unwrap();
    let files = unpacked(&export(&club, Vocabulary::Gbif).await);
    let mut pairs = 0;
    for (file, one, other) in [
        ("event.csv", "sampleSizeValue", "sampleSizeUnit"),
        ("event.csv", "decimalLatitude", "geodeticDatum"),
        ("occurrence.csv", "organismQuantity", "organismQuantityType"),
        ("measurementorfact.csv", "measurementType", "measurementValue"),
    ] {
        let mut reader = csv::Reader::from_reader(Cursor::new(&files[file]));
        let header = reader.headers().unwrap().clone();
        let place = |name: &str| header.iter().position(|column| column == name).unwrap_or_else(|| panic!("{name}"));
        for row in reader.records() {
            let row = row.unwrap();
            assert_eq!(row[place(one)].is_empty(), row[place(other)].is_empty(), "{file}: {row:?}");
            pairs += usize::from(!row[place(one)].is_empty());
        }
        for (index, term) in header.iter().enumerate() {
            let dwc = format!("<field index=\"{index}\" term=\"http://rs.tdwg.org/dwc/terms/{term}\"/>");
            let borrowed = format!("<field index=\"{index}\" term=\"http://purl.org/dc/terms/{term}\"/>");
            assert!(files["meta.xml"].contains(&dwc) || files["meta.xml"].contains(&borrowed), "{file}: {term}");
        }
    }
    assert!(pairs > 1000, "{pairs} pairs were looked at");
    let eml = &files["eml.xml"];
    assert!(eml.contains("The Alder Fold &lt;Club&gt; &amp; friends") && eml.contains("<title>"), "{eml}");
}
