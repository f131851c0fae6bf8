//! Darwin Core archives, out and in again, and other people's.

use std::collections::BTreeMap;
use std::io::{Cursor, Read as _, Write as _};

use chrono::NaiveTime;
use subimago::app::export::{self, ArchiveWish, Vocabulary};
use subimago::app::import::ImportOptions;
use subimago::app::import_archive::{ArchiveImport, import_archive};
use subimago::domain::{AbundanceClass, Record, Stage};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use crate::support::{Club, at, counts, day, mapped, options, said, slug};

/// Every kind, amount, day and fact that a record can have.
pub(crate) const RECORDS: &str = "site,date_from,date_to,taxon,count,abundance_class,kind,effort,hour_start,hour_end,stage,brood,id,known_at,cloud,wind_kmh,air_c\n\
    bridge,2024-05-01,2024-05-08,olives,4,,trap,3,,,,,,,,,\n\
    bridge,2024-05-01,2024-05-08,ephemera-danica,0,,trap,3,,,,,,,,,\n\
    bridge,,2024-05-09,olives,4,,trap,1,,,,,,,,,\n\
    bridge,2024-05-10,2024-05-10,olives,4,,trap,0.5,,,,,,,,,\n\
    bridge,2024-05-09,2024-05-10,olives,5,,trap,1,,,,,,,,,\n\
    bridge,2024-05-11,2024-05-11,olives,4,heavy,visit,1,,,,,,,,,\n\
    bridge,2024-05-12,2024-05-12,olives,0,,visit,2,22:30,01:15,,,,,,,\n\
    mill-meadow,2024-05-12,2024-05-12,olives,0,none,visit,1,,,,,,,,,\n\
    mill-meadow,2024-05-13,2024-05-13,olives,,none,visit,1,14:00,16:30,,,,,,,\n\
    bridge,2024-05-12,2024-05-14,olives,,,first-sighting,1,,,,,,,,,\n\
    bridge,,2024-04-15,ephemera-danica,3,,first-sighting,1,,,,,,,,,\n\
    bridge,2024-05-15,2024-05-15,olives,,moderate,visit,1,,,emerger,,,,,,\n\
    bridge,2024-05-15,2024-05-15,olives,,sparse,visit,1,,,spent,,,,,,\n\
    mill-meadow,2024-05-11,2024-05-11,ephemera-danica,7,,visit,2,18:00,20:30,spinner,1,\"'=L-7, \"\"x\"\"\",2024-05-12T08:00:00Z,0.5,12,-1.5\n";

pub(crate) fn wish(vocabulary: Vocabulary) -> ArchiveWish {
    ArchiveWish {
        vocabulary,
        license: "https://creativecommons.org/publicdomain/zero/1.0/legalcode".to_owned(),
        rights_holder: "The Alder Fold <Club> & friends".to_owned(),
        dataset_name: None,
    }
}

pub(crate) async fn export(club: &Club, vocabulary: Vocabulary) -> Vec<u8> {
    let mut out = Cursor::new(Vec::new());
    export::archive(&club.db, &club.clock, &slug("ostrey"), &wish(vocabulary), &mut out).await.unwrap();
    out.into_inner()
}

pub(crate) async fn take(club: &Club, archive: Vec<u8>, options: &ImportOptions) -> ArchiveImport {
    let done = import_archive(&club.db, &club.clock, &slug("ostrey"), Box::new(Cursor::new(archive)), options).await;
    let done = done.unwrap();
    let document = &done.document;
    assert_eq!(document.total, document.created + document.updated + document.unchanged + document.rejected);
    done
}

/// Files of an archive as text.
pub(crate) fn unpacked(archive: &[u8]) -> BTreeMap<String, String> {
    let mut zip = ZipArchive::new(Cursor::new(archive)).unwrap();
    let count = zip.len();
    let read = |at| {
        let mut entry = zip.by_index(at).unwrap();
        let mut text = String::new();
        entry.read_to_string(&mut text).unwrap();
        (entry.name().unwrap().into_owned(), text)
    };
    (0..count).map(read).collect()
}

/// An archive of these files.
fn packed(files: &[(&str, &str)]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in files {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        zip.start_file(*name, options).unwrap();
        zip.write_all(text.as_bytes()).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// Without what no archive carries: the file it came from.
pub(crate) fn told(records: Vec<Record>) -> Vec<Record> {
    let mut records: Vec<Record> =
        records.into_iter().map(|record| Record { source: String::new(), ..record }).collect();
    records.sort_by_key(Record::key);
    records
}

#[tokio::test]
async fn what_goes_out_comes_back_the_same_in_both_vocabularies() {
    for vocabulary in [Vocabulary::Gbif, Vocabulary::Tdwg] {
        let (club, other) = (Club::new().await, Club::new().await);
        let first = club.records(RECORDS).await;
        assert!(first.accepted, "{:?}", said(&first));
        let archive = export(&club, vocabulary).await;
        assert_eq!(export(&club, vocabulary).await, archive, "the same data, the same bytes");
        let taken = take(&other, archive.clone(), &options()).await;
        assert_eq!((said(&taken.document), counts(&taken.document)), (vec![], [14, 0, 0, 0]));
        assert!(taken.document.unknown_columns.is_empty() && taken.notes.is_empty());
        assert_eq!(told(other.stored_records().await), told(club.stored_records().await));
        for club in [&club, &other] {
            assert_eq!(counts(&take(club, archive.clone(), &options()).await.document), [0, 0, 14, 0]);
        }
        let status = unpacked(&archive)["occurrence.csv"].clone();
        let words =
            if vocabulary == Vocabulary::Gbif { [",present,", ",absent,"] } else { [",detected,", ",notDetected,"] };
        let found = words.map(|word| status.matches(word).count());
        assert_eq!(found, [10, 4], "{status}");
    }
}

#[tokio::test]
async fn a_dry_run_stores_nothing_and_a_wrong_row_stores_none_unless_told_so() {
    let (club, other) = (Club::new().await, Club::new().await);
    club.records(RECORDS).await;
    let archive = export(&club, Vocabulary::Gbif).await;
    let dry = take(&other, archive.clone(), &ImportOptions { dry_run: true, ..options() }).await;
    assert_eq!((dry.document.created, other.stored_records().await.len()), (14, 0));
    let mut files = unpacked(&archive);
    let broken = files["occurrence.csv"].replacen(",present,", ",perhaps,", 1);
    files.insert("occurrence.csv".to_owned(), broken);
    let broken = packed(&files.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect::<Vec<_>>());
    let refused = take(&other, broken.clone(), &options()).await;
    assert_eq!((refused.document.accepted, counts(&refused.document)), (false, [0, 0, 0, 14]));
    let fault = &refused.document.faults[0];
    assert_eq!((fault.line, fault.column.as_str(), fault.value.as_str()), (2, "occurrenceStatus", "perhaps"));
    assert!(refused.notes[0].contains("occurrence.csv") && other.stored_records().await.is_empty());
    let best = take(&other, broken, &ImportOptions { best_effort: true, ..options() }).await;
    assert_eq!(counts(&best.document), [13, 0, 0, 1]);
}

/// `meta.xml` of a file of occurrences alone, tabs between fields and no header.
const LONE: &str = r#"<archive xmlns="http://rs.tdwg.org/dwc/text/">
  <core encoding="UTF-8" fieldsTerminatedBy="\t" linesTerminatedBy="\n" fieldsEnclosedBy="" ignoreHeaderLines="0" rowType="http://rs.tdwg.org/dwc/terms/Occurrence">
    <files><location>o.txt</location></files>
    <id index="0"/>
    <field index="1" term="http://rs.tdwg.org/dwc/terms/scientificName"/>
    <field index="2" term="http://rs.tdwg.org/dwc/terms/eventDate"/>
    <field index="3" term="http://rs.tdwg.org/dwc/terms/locality"/>
    <field index="4" term="http://rs.tdwg.org/dwc/terms/occurrenceStatus"/>
    <field index="5" term="http://rs.tdwg.org/dwc/terms/lifeStage"/>
    <field index="6" term="http://rs.tdwg.org/dwc/terms/individualCount"/>
    <field index="7" term="http://rs.tdwg.org/dwc/terms/samplingProtocol"/>
    <field index="8" term="http://example.org/terms/mood"/>
    <field term="http://rs.tdwg.org/dwc/terms/order" default="Ephemeroptera"/>
  </core>
</archive>"#;

#[tokio::test]
async fn other_peoples_archives_are_read_with_their_words() {
    let rows = "1\tEphemera danica\t2024-05-20\tBridge water\tpresent\timago\t\t\tglad\n\
        2\tephemera danica\t2024-05-20T18:30:00Z\tMill Meadow\tnotDetected\t\t\tvisit\t\n\
        3\tBaetidae\t2024-05-01/2024-05-07\tbridge water\tDetected\tsubimago\t12\tEmergence tent\t\n\
        4\tBaetidae\t2024-05-08\tBridge water\tabsent\tlarva\t0\tvisit\t\n\
        5\tBaetis\t2024-05-08\tBridge water\t\tegg\t0\tvisit\t\n";
    let map = "column,from,to\nsamplingProtocol,Emergence tent,trap\nscientificName,Baetis,olives\nlifeStage,egg,\n";
    let club = Club::new().await;
    let archive = packed(&[("meta.xml", LONE), ("o.txt", rows), ("photo.jpg", "x")]);
    let taken = take(&club, archive.clone(), &mapped(map)).await;
    assert_eq!((said(&taken.document), counts(&taken.document)), (vec![], [5, 0, 0, 0]));
    let found = club.stored_records().await;
    let row = |key: &str| found.iter().find(|record| record.key().contains(key)).unwrap_or_else(|| panic!("{key}"));
    let spinner = row("spinner");
    assert_eq!((spinner.abundance_class, spinner.date_to), (Some(AbundanceClass::Sparse), day("2024-05-20")));
    assert_eq!(row("mill-meadow").abundance_class, Some(AbundanceClass::None));
    let tent = row("trap");
    assert_eq!((tent.date_from, tent.date_to, tent.count), (Some(day("2024-04-30")), day("2024-05-07"), Some(12)));
    assert_eq!((tent.stage, row("nymph").count), (Some(Stage::Dun), Some(0)));
    // Without the map, each word that is not understood is named where it stands.
    let refused = take(&club, archive, &options()).await;
    assert_eq!(
        said(&refused.document),
        [
            "line 3, column samplingProtocol: must be one of visit, trap, first-sighting (found \"Emergence tent\")",
            "line 5, column scientificName: is not a known taxon; declared are ephemera-danica, olives (found \"Baetis\")",
            "line 5, column lifeStage: must be one of nymph, pupa, emerger, dun, adult, spinner, spent (found \"egg\")",
        ]
    );
}

/// Events with occurrences: what the row says counts before what its event says.
#[tokio::test]
async fn rows_without_an_event_and_rows_that_contradict_themselves_are_named() {
    let meta = r#"<archive xmlns="http://rs.tdwg.org/dwc/text/">
      <core fieldsTerminatedBy="," fieldsEnclosedBy='"' ignoreHeaderLines="1" rowType="http://rs.tdwg.org/dwc/terms/Event">
        <files><location>e.csv</location></files><id index="0"/>
        <field index="1" term="http://rs.tdwg.org/dwc/terms/eventDate"/>
        <field index="2" term="http://rs.tdwg.org/dwc/terms/locationID"/>
        <field index="3" term="http://rs.tdwg.org/dwc/terms/eventTime"/>
        <field index="4" term="http://rs.tdwg.org/dwc/terms/sampleSizeValue"/>
        <field index="5" term="http://rs.tdwg.org/dwc/terms/sampleSizeUnit"/>
      </core>
      <extension fieldsTerminatedBy="," fieldsEnclosedBy='"' ignoreHeaderLines="1" rowType="http://rs.tdwg.org/dwc/terms/Occurrence">
        <files><location>o.csv</location></files><coreid index="0"/>
        <field index="1" term="http://rs.tdwg.org/dwc/terms/taxonID"/>
        <field index="2" term="http://rs.tdwg.org/dwc/terms/occurrenceStatus"/>
        <field index="3" term="http://rs.tdwg.org/dwc/terms/individualCount"/>
        <field index="4" term="http://rs.tdwg.org/dwc/terms/organismQuantity"/>
        <field index="5" term="http://rs.tdwg.org/dwc/terms/organismQuantityType"/>
        <field index="6" term="http://rs.tdwg.org/dwc/terms/eventDate"/>
      </extension>
    </archive>"#;
    let events = "id,date,place,time,size,unit\n\
        a,2024-05-08,ostrey:bridge,14:00:00+01:00/16:30:00+01:00,2,observer\n\
        b,2024-05-09,OSTREY:mill-meadow,dusk,15,minute\n\
        c,2024-05-10,elsewhere:bridge,,,\n";
    let rows = "id,taxon,status,count,quantity,type,date\n\
        a,olives,present,,2,\"abundance class 0-3, ours\",\n\
        a,ephemera-danica,present,,,,2024-05-07\n\
        z,olives,present,1,,,\n\
        \n\
        a,olives,absent,3,,,\n\
        a,olives,present,0,,,\n\
        b,olives,present,2,,,\n\
        c,olives,,2,,,\n\
        a,olives,present,,40,% cover,\n";
    let club = Club::new().await;
    let taken = take(
        &club,
        packed(&[("meta.xml", meta), ("e.csv", events), ("o.csv", rows)]),
        &ImportOptions { best_effort: true, ..options() },
    )
    .await;
    assert_eq!(
        said(&taken.document),
        [
            "line 4, column eventID: the archive has no such event (found \"z\")",
            "line 6, column occurrenceStatus: says that none were there, and the amount that some were (found \"absent\")",
            "line 7, column occurrenceStatus: says some were there, and individualCount none (found \"present\")",
            "line 8, column sampleSizeValue: must be a number (found \"15 minute\")",
            "line 8, column eventTime: must be a time of day as HH:MM, 00:00 to 23:59 (found \"dusk\")",
            "line 8, column eventTime (end): must be a time of day as HH:MM, 00:00 to 23:59 (found \"dusk\")",
            "line 9, column locationID: is not a known reach; declared are bridge, mill-meadow (found \"elsewhere:bridge\")",
            "line 10, column organismQuantity: must be one of none, sparse, moderate, heavy (found \"40 % cover\")",
        ]
    );
    assert_eq!(counts(&taken.document), [2, 0, 0, 6]);
    let found = club.stored_records().await;
    assert_eq!((found[0].date_to, found[0].effort), (day("2024-05-07"), 2.0));
    assert_eq!(found[1].abundance_class, Some(AbundanceClass::Moderate));
    assert_eq!(found[1].hours, NaiveTime::from_hms_opt(14, 0, 0).zip(NaiveTime::from_hms_opt(16, 30, 0)));
    assert!(found[1].known_assumed && found[1].known_at == at("2024-05-08T22:59:59.999999Z"));
}

/// Letters that do not pack well.
fn noise(length: usize) -> String {
    let mut state = 1_u64;
    let letter = |_| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        char::from(b'a' + (state >> 60) as u8 + ((state >> 33) % 10) as u8)
    };
    (0..length).map(letter).collect()
}

/// Archives that are none, or made to do harm: each is refused whole and says why.
#[tokio::test]
async fn harmful_and_broken_archives_are_refused() {
    let club = Club::new().await;
    let refused = async |bytes: Vec<u8>, words: &str| {
        let taken = take(&club, bytes, &ImportOptions { best_effort: true, ..options() }).await;
        assert!(!taken.document.accepted && taken.document.fault_count == 1, "{words}: {:?}", taken.document);
        let told = said(&taken.document).join("; ");
        assert!(told.contains(words), "{words} not in {told}");
    };
    refused(Vec::new(), "no zip archive").await;
    refused(b"site,date_from\n".repeat(10), "no zip archive").await;
    let good = packed(&[("meta.xml", LONE), ("o.txt", "")]);
    refused(good[..good.len() - 30].to_vec(), "no zip archive").await;
    refused(packed(&[("o.txt", "x")]), "no meta.xml").await;
    refused(packed(&[("meta.xml", LONE)]), "does not hold it").await;
    refused(packed(&[("meta.xml", "<archive><core")]), "not well-formed").await;
    refused(packed(&[("meta.xml", "<!DOCTYPE a [<!ENTITY b \"c\">]><archive/>")]), "document type").await;
    refused(packed(&[("meta.xml", "<archive/>")]), "one core").await;
    refused(packed(&[("meta.xml", &LONE.replace("UTF-8", "UTF-16"))]), "only UTF-8").await;
    refused(packed(&[("meta.xml", &LONE.replace("terms/Occurrence", "terms/Taxon")), ("o.txt", "")]), "no table").await;
    for name in ["../meta.xml", "/meta.xml", "data/meta.xml", "a\\b", "c:x", ".."] {
        refused(packed(&[("meta.xml", LONE), ("o.txt", ""), (name, "")]), "has a path").await;
    }
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("meta.xml", SimpleFileOptions::default()).unwrap();
    zip.add_symlink("o.txt", "elsewhere", SimpleFileOptions::default()).unwrap();
    refused(zip.finish().unwrap().into_inner(), "a link").await;
    let names: Vec<String> = (0..101).map(|n| format!("f{n}")).collect();
    refused(packed(&names.iter().map(|name| (name.as_str(), "")).collect::<Vec<_>>()), "too many files").await;
    // A hundred times its length is more than any honest archive unpacks to.
    let line = format!("1\tEphemera danica\t2024-05-20\tBridge water\tpresent\t{}\n", "x".repeat(900));
    refused(packed(&[("meta.xml", LONE), ("o.txt", &line.repeat(5000))]), "100 times its length").await;
    let long = format!("1\t{}\n", noise(70_000));
    refused(packed(&[("meta.xml", LONE), ("o.txt", &long)]), "longer than 64 KiB").await;
    let quoted = LONE.replace("fieldsEnclosedBy=\"\"", "fieldsEnclosedBy=\"&quot;\"");
    let open = format!("1\t\"{}", noise(70_000).replace('q', "\n"));
    refused(packed(&[("meta.xml", &quoted), ("o.txt", &open)]), "longer than 64 KiB").await;
    assert!(club.stored_records().await.is_empty());
}
