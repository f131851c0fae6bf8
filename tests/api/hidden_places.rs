//! No public output tells where somebody stood: every address of the interface that is read, every page that links
//! lead to, every feed, picture and archive, and refusals, are searched for places that are known to be stored.

use std::collections::{BTreeSet, VecDeque};
use std::io::{Cursor, Read as _, Write as _};

use serde_json::{Value, json};
use subimago::app::export::{ArchiveWish, Vocabulary, archive};
use subimago::app::import::ImportOptions;
use subimago::app::import_archive::import_archive;
use subimago::clock::FixedClock;
use subimago::domain::{AbundanceClass, Reach, Record, RecordKind};
use subimago::store::{place, record};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use crate::documents::report;
use crate::support::{TestApp, date, now, on_both, slug};

/// Where the keeper put the reach: told by the reach's own documents, and nowhere else.
const REACH: (f64, f64) = (57.512_37, -133.523_64);
/// Where people stood, each told to the service in another way; all in the cell of the reach or the next.
const SPOTS: [(f64, f64); 5] = [
    (57.513_91, -133.527_18),
    (57.518_43, -133.521_76),
    (57.511_72, -133.528_93),
    (57.516_28, -133.522_47),
    (57.514_56, -133.526_35),
];
/// The middle of their cell of a hundredth of a degree.
const CELL: (f64, f64) = (57.515, -133.525);
/// Operations that tell where keepers put their reaches.
const OF_REACHES: [&str; 5] = [
    "/v1/watersheds/ostrey",
    "/v1/watersheds/ostrey/reaches",
    "/v1/watersheds/ostrey/reaches.geojson",
    "/v1/watersheds/ostrey/reaches.json",
    "/v1/watersheds/ostrey/reaches/sluice",
];
/// Most addresses of a walk, so that a loop of links ends in words.
const MOST: usize = 600;

fn words((latitude, longitude): (f64, f64)) -> String {
    format!("{latitude}, {longitude}")
}

/// Fills every field in which a place may come in.
async fn fill(app: &TestApp) {
    let mut tx = app.service.db().write().await.expect("writes");
    let reach = Reach {
        slug: slug("sluice"),
        name: "Sluice".to_owned(),
        latitude: REACH.0,
        longitude: REACH.1,
        elevation_m: None,
        water_type: None,
        gauges: vec![slug("bridge")],
    };
    place::upsert_reach(&mut tx, &slug("ostrey"), &reach).await.expect("stores");
    let visit = Record {
        reach: slug("sluice"),
        taxon: slug("ephemera-danica"),
        brood: None,
        kind: RecordKind::Visit,
        date_from: Some(date(2026, 5, 8)),
        date_to: date(2026, 5, 8),
        count: None,
        abundance_class: Some(AbundanceClass::Sparse),
        effort: 1.0,
        hours: None,
        stage: None,
        weather: subimago::domain::record::Weather::default(),
        external_id: None,
        known_at: now(),
        known_assumed: true,
        source: "file:a.csv".to_owned(),
        doubts: Vec::new(),
        exposure_known: true,
    };
    record::put_records(&mut tx, &slug("ostrey"), &[visit], now()).await.expect("stores");
    tx.commit().await.expect("commits");
    app.service.refresh().await.expect("loads");
    for (number, accept) in [(0, true), (1, false)] {
        let id = format!("018f6b1c-2f5e-7c3a-9d51-0a4b8f1f2e1{number}");
        let mut body = report(&id);
        body["reach"] = json!("sluice");
        body["note"] = json!(words(SPOTS[0]));
        body["sky"] = json!(words(SPOTS[1]));
        body["looked_for"] = Value::Null;
        body["sightings"] = json!([
            { "taxon": "ephemera-danica", "stage": "dun", "abundance_class": "moderate", "behaviour": words(SPOTS[2]) },
            { "described": { "length_mm": 6, "colour": words(SPOTS[3]) }, "stage": "dun", "abundance_class": "sparse" },
        ]);
        let key = format!("0123456789abcde{number}");
        app.post("/v1/reports", &body).token(&app.member).header("idempotency-key", &key).send().await.expect(201);
        if accept {
            let accepted = json!({ "state": "accepted" });
            app.post(&format!("/v1/reports/{id}/decision"), &accepted).token(&app.keeper).send().await.expect(200);
        }
    }
    import_spots(app).await;
    app.service.refresh().await.expect("loads");
}

/// Another club's archive of the reach with the place of every visit.
async fn import_spots(app: &TestApp) {
    let mut files = unpacked(&exported(app).await);
    for (name, text) in &mut files {
        // Other visits, of another year.
        *text = text.replace("urn:uuid:", "urn:visit:").replace("2026-05", "2025-05");
        if name == "event.csv" {
            *text = with_spot(text);
        }
    }
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in &files {
        zip.start_file(name.as_str(), SimpleFileOptions::default()).expect("a file");
        zip.write_all(text.as_bytes()).expect("writes");
    }
    let bytes = zip.finish().expect("packs").into_inner();
    let file = Box::new(Cursor::new(bytes));
    let clock = FixedClock(now());
    let options = ImportOptions::default();
    let done = import_archive(app.service.db(), &clock, &slug("ostrey"), file, &options).await.expect("imports");
    assert!(done.document.created > 0, "{:?}", done.document);
}

/// The events with the place of the last spot.
fn with_spot(text: &str) -> String {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head = reader.headers().expect("a head").clone();
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&head).expect("writes");
    for row in reader.records() {
        let row = row.expect("a row");
        writer
            .write_record(head.iter().zip(&row).map(|(column, value)| match column {
                "decimalLatitude" => SPOTS[4].0.to_string(),
                "decimalLongitude" => SPOTS[4].1.to_string(),
                _ => value.to_owned(),
            }))
            .expect("writes");
    }
    String::from_utf8(writer.into_inner().expect("flushes")).expect("UTF-8")
}

async fn exported(app: &TestApp) -> Vec<u8> {
    let wish = ArchiveWish {
        vocabulary: Vocabulary::Gbif,
        license: "https://creativecommons.org/publicdomain/zero/1.0/legalcode".to_owned(),
        rights_holder: "Alder Fold".to_owned(),
        dataset_name: None,
    };
    let mut out = Cursor::new(Vec::new());
    archive(app.service.db(), &FixedClock(now()), &slug("ostrey"), &wish, &mut out).await.expect("packs");
    out.into_inner()
}

fn unpacked(bytes: &[u8]) -> Vec<(String, String)> {
    let mut zip = ZipArchive::new(Cursor::new(bytes)).expect("an archive");
    (0..zip.len())
        .map(|at| {
            let mut file = zip.by_index(at).expect("a file");
            let mut text = String::new();
            file.read_to_string(&mut text).expect("text");
            (file.name().expect("a name").into_owned(), text)
        })
        .collect()
}

/// Numbers of `text` with three decimals and more.
fn numbers(text: &str) -> impl Iterator<Item = f64> + '_ {
    text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
        .filter(|part| part.split_once('.').is_some_and(|(_, decimals)| decimals.len() >= 3))
        .filter_map(|part| part.parse().ok())
}

/// What `text` tells of a hidden place: a number that lies nearer to it than the middle of its cell may, and is not
/// that middle.
fn told_of(text: &str, hidden: &[(f64, f64)]) -> Vec<f64> {
    let near = |number: f64, (latitude, longitude): (f64, f64)| {
        let far = |place: f64, middle: f64| (number - place).abs() >= 0.005 || (number - middle).abs() <= 1e-9;
        !(far(latitude, CELL.0) && far(longitude, CELL.1))
    };
    numbers(text).filter(|number| hidden.iter().any(|place| near(*number, *place))).collect()
}

/// Addresses in `text` that lead to this service.
fn links(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for mark in ["href=\"", "src=\"", "\"href\":\"", "\"next\":\"", "URL:", "<id>"] {
        for rest in text.split(mark).skip(1) {
            let link = rest.split(['"', '<', '\r', '\n']).next().unwrap_or_default().replace("&amp;", "&");
            let own = link.strip_prefix("http://water.test").unwrap_or(&link).to_owned();
            if own.starts_with('/') && !own.starts_with("//") {
                found.push(own.split('#').next().unwrap_or_default().to_owned());
            }
        }
    }
    found
}

/// Every address of the interface that is read, with what is known put into it, and the beginnings of all others.
async fn beginnings(app: &TestApp) -> Vec<String> {
    let document = app.get("/openapi.json").send().await.expect(200).json();
    let reports = app.get("/v1/watersheds/ostrey/reports").send().await.expect(200).json();
    let report = reports["items"][0]["id"].as_str().expect("a public report").to_owned();
    let mut found: Vec<String> = Vec::new();
    for (path, methods) in document["paths"].as_object().expect("paths") {
        if methods.get("get").is_none() {
            continue;
        }
        let filled = [
            ("{w}", "ostrey"),
            ("{r}", "sluice"),
            ("{g}", "bridge"),
            ("{t}", "ephemera-danica"),
            ("{id}", &report),
            ("{key}", "feed_0123456789abcdef"),
            ("{feature}", "ostrey.sluice"),
            ("{collection}", "observations"),
        ];
        let filled = filled.iter().fold(path.clone(), |path, (name, value)| path.replace(name, value));
        assert!(!filled.contains('{'), "{filled}: what stands there?");
        found.push(filled.replace("observations", "reaches"));
        found.push(filled.replace("sluice", "mill-meadow"));
        found.push(filled);
    }
    assert!(found.len() > 60, "{}", found.len());
    let hidden = [
        "/",
        "/embed/ostrey",
        "/embed/ostrey.svg",
        "/w/ostrey/digest.txt",
        "/openapi.json",
        "/report?w=ostrey&r=sluice",
        "/w/ostrey/reaches/sluice/seen?tails=2",
        "/w/ostrey/reaches/sluice/guidance?conditions=rain",
        "/calendars/ostrey.ics?reach=sluice",
        "/w/ostrey/seen",
    ];
    found.extend(hidden.map(str::to_owned));
    // Refusals, and what they echo.
    for wrong in [
        "/v1/watersheds/ostrey/reports?since=x&place=y",
        "/ogc/collections/observations/items?bbox=1,2,3",
        "/ogc/collections/observations/items?bbox=a&datetime=b",
        "/v1/watersheds/ostrey/reaches/sluice/guidance?at=x",
        "/v1/watersheds/ostrey/reaches/sluice/seen?length_mm=x",
        "/w/ostrey/reaches/sluice/seen?length_mm=x",
        "/w/ostrey/reaches/nowhere",
        "/embed/ostrey?reach=nowhere",
        "/calendars/ostrey.ics?reach=nowhere",
        "/v1/nowhere",
    ] {
        found.push(wrong.to_owned());
    }
    found
}

/// Walks everything that anyone may read and returns each address with what it gave.
async fn walk(app: &TestApp, token: Option<&str>) -> Vec<(String, String)> {
    let mut open: VecDeque<String> = beginnings(app).await.into();
    let (mut seen, mut told) = (BTreeSet::new(), Vec::new());
    while let Some(path) = open.pop_front() {
        if !seen.insert(path.clone()) || path.starts_with("/assets/") {
            continue;
        }
        assert!(seen.len() < MOST, "the walk does not end: {path}");
        let mut request = app.get(&path).header("accept", "text/html, application/json;q=0.9, */*;q=0.1");
        if let Some(token) = token {
            request = request.token(token);
        }
        let answer = request.send().await;
        let headers: Vec<String> = answer.headers.iter().map(|(name, value)| format!("{name}: {value:?}")).collect();
        let text = String::from_utf8_lossy(&answer.bytes).into_owned();
        // Folded lines of calendars could part a number.
        let text = text.replace("\r\n ", "");
        if answer.status.is_success() {
            open.extend(
                links(&text).into_iter().filter(|link| !link.contains("units=") && !link.starts_with("/report-worker")),
            );
        }
        told.push((path, format!("{}\n{text}", headers.join("\n"))));
    }
    told
}

on_both! {
    async fn nothing_that_anyone_may_read_tells_a_true_place(app) {
        fill(&app).await;
        for token in [None, Some(app.other_member.clone())] {
            let told = walk(&app, token.as_deref()).await;
            let [mut pages, mut places, mut seen_reach] = [0; 3];
            for (path, text) in &told {
                pages += usize::from(path.starts_with("/w/"));
                places += usize::from(numbers(text).any(|number| number == CELL.0));
                assert_eq!(told_of(text, &SPOTS), told_of_allowed(path, text), "{path}: {text}");
                let bare = path.split('?').next().unwrap_or_default();
                if OF_REACHES.contains(&bare) {
                    seen_reach += usize::from(text.contains("57.51237") && text.contains("-133.52364"));
                } else {
                    assert_eq!(told_of(text, &[REACH]), Vec::<f64>::new(), "{path}: {text}");
                }
            }
            assert!(pages >= 10 && places >= 4, "the walk saw {pages} pages and {places} answers with the cell");
            assert!(seen_reach >= OF_REACHES.len(), "and found what it looks for where it may stand");
        }
        for (name, text) in unpacked(&exported(&app).await) {
            let hidden: Vec<(f64, f64)> = SPOTS.into_iter().chain([REACH]).collect();
            assert_eq!(told_of(&text, &hidden), Vec::<f64>::new(), "{name}: {text}");
            assert!(name != "event.csv" || text.contains("57.515"), "{text}");
        }
    }
}

/// The keeper's own place of the reach lies in the same cell as the spots.
fn told_of_allowed(path: &str, text: &str) -> Vec<f64> {
    let bare = path.split('?').next().unwrap_or_default();
    let own = |number: &f64| *number == REACH.0 || *number == REACH.1;
    if OF_REACHES.contains(&bare) { told_of(text, &SPOTS).into_iter().filter(own).collect() } else { Vec::new() }
}

on_both! {
    async fn boxes_tell_no_more_than_the_cell(app) {
        fill(&app).await;
            let count = async |[west, south, east, north]: [f64; 4]| -> usize {
            let mut total = 0;
            for collection in ["reaches", "observations"] {
                let path = format!("/ogc/collections/{collection}/items?bbox={west},{south},{east},{north}");
                total += app.get(&path).send().await.expect(200).json()["features"].as_array().expect("features").len();
            }
            total
        };
        let all = count([CELL.1, CELL.0, CELL.1, CELL.0]).await;
        assert!(all > 2, "the reach and what was seen there: {all}");
        // Boxes that hold the true place and not the middle of its cell find nothing, however small.
        for size in [0.000_05, 0.000_5, 0.002] {
            for (latitude, longitude) in SPOTS.into_iter().chain([REACH]) {
                let found = count([longitude - size, latitude - size, longitude + size, latitude + size]).await;
                let holds = (latitude - CELL.0).abs() <= size && (longitude - CELL.1).abs() <= size;
                assert_eq!(found, if holds { all } else { 0 }, "{latitude} {longitude} within {size}");
            }
        }
        // An edge that is moved across the cell finds its middle, not the place: halving leads to the middle alone.
        let (mut low, mut high) = (57.51, 57.52);
        for _ in 0..20 {
            let middle = 0.5 * (low + high);
            if count([-134.0, 57.0, -133.0, middle]).await > 0 { high = middle } else { low = middle }
        }
        assert!((high - CELL.0).abs() < 1e-5, "{high}");
    }
}

#[test]
fn a_place_is_found_in_every_form() {
    let hidden = [SPOTS[0]];
    for text in ["57.51391", "[-133.52718,1]", "57.5139,x", "geo:57.514,-133", "<p>57.5139</p>"] {
        assert_eq!(told_of(text, &hidden).len(), 1, "{text}");
    }
    for text in ["57.515 -133.525", "57.51", "157.51391", "0.52718"] {
        assert_eq!(told_of(text, &hidden), Vec::<f64>::new(), "{text}");
    }
}
