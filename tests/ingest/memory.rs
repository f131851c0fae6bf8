//! Wrong files must not cost memory: each import runs in a process of its own, whose peak is read.

use std::io::Write as _;
use std::process::Command;

use rstest::rstest;

use crate::support::{Club, at, options, said};

const FILE: &str = "SUBIMAGO_TEST_FILE";
const FORM: &str = "SUBIMAGO_TEST_FORM";
/// Most growth of the peak, KiB.
const MOST_KIB: u64 = 64 * 1024;

/// Writes a file.
type Write = Box<dyn Fn(&mut std::io::BufWriter<&std::fs::File>)>;

/// Peak resident memory of this process, KiB; `None` where the system does not tell.
fn peak_kib() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    status.lines().find_map(|line| line.strip_prefix("VmHWM:"))?.trim().strip_suffix("kB")?.trim().parse().ok()
}

/// Imports the file named in the environment and prints by how much the peak grew.
#[tokio::test]
#[ignore = "started by the test below"]
#[allow(clippy::disallowed_methods, reason = "how the other process is told its file")]
async fn import_alone() {
    let file = Box::new(std::fs::File::open(std::env::var(FILE).unwrap()).unwrap());
    let records = std::env::var(FORM).unwrap() == "records";
    let club = Club::new().await;
    let content = club.content().await;
    let before = peak_kib().unwrap();
    let document =
        if records { club.records_from(file, &options()).await } else { club.readings_from(file, &options()).await };
    let grown = peak_kib().unwrap() - before;
    assert_eq!(club.content().await, content, "a refused file stores nothing");
    println!(
        "grew {grown} KiB, accepted {}, {}",
        document.accepted,
        said(&document)[..document.faults.len().min(3)].join("; ")
    );
}

fn growth_kib(form: &str, write: impl FnOnce(&mut std::io::BufWriter<&std::fs::File>)) -> (u64, String) {
    let file = tempfile::NamedTempFile::new().unwrap();
    let mut writer = std::io::BufWriter::new(file.as_file());
    write(&mut writer);
    writer.flush().unwrap();
    drop(writer);
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "memory::import_alone", "--ignored", "--nocapture"])
        .env(FILE, file.path())
        .env(FORM, form)
        .output()
        .unwrap();
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    let (_, told) = text.split_once("grew ").unwrap_or_else(|| panic!("{text}"));
    (told.split(' ').next().unwrap().parse().unwrap(), told.to_owned())
}

#[test]
fn files_far_too_large_or_broken_late_are_refused_without_costing_memory() {
    if peak_kib().is_none() {
        println!("SKIPPED: this system does not tell its peak memory");
        return;
    }
    let rows = |out: &mut std::io::BufWriter<&std::fs::File>, rows: u32| {
        out.write_all(b"site,date,tmean_c\n").unwrap();
        for _ in 0..rows {
            out.write_all(b"bridge,2024-05-01,9.25\n").unwrap();
        }
    };
    let cases: [(&str, &str, Write); 6] = [
        // Each is refused by a check of its own, so each must be told in that check's words.
        (
            "307 MiB",
            "line 1, column file: the file is too large: an import takes up to 50 MiB; split it by year or gauge (found \"307 MiB\")",
            Box::new(move |out| rows(out, 14_000_000)),
        ),
        (
            "two million rows",
            "line 1000002, column file: the file is too large: an import takes up to 1000000 rows; split it",
            Box::new(move |out| rows(out, 2_000_000)),
        ),
        (
            "one long line",
            "line 1, column header: the row is longer than 64 KiB",
            Box::new(|out| out.write_all(&vec![b'a'; 40_000_000]).unwrap()),
        ),
        (
            "an open quote",
            "line 2, column date: a quote opened in this row is never closed",
            Box::new(move |out| {
                out.write_all(b"site,date,tmean_c\nbridge,\"2024-05-01,9\n").unwrap();
                rows(out, 900_000);
            }),
        ),
        (
            "not UTF-8 at the end",
            "line 900002, column site: the text is not UTF-8 from here on",
            Box::new(move |out| {
                rows(out, 900_000);
                out.write_all(b"br\xfccke,2024-05-01,9\n").unwrap();
            }),
        ),
        (
            "every row against another",
            "line 3, column tmean_c: line 2 says something else of the same gauge and time",
            Box::new(|out| {
                out.write_all(b"site,date,tmean_c\n").unwrap();
                for row in 0..999_999 {
                    writeln!(out, "bridge,2024-05-01,9.{row:06}").unwrap();
                }
            }),
        ),
    ];
    for (name, reason, write) in cases {
        refused_within_bounds(name, "readings", reason, write);
    }
}

fn refused_within_bounds(name: &str, form: &str, reason: &str, write: Write) {
    let (grown, told) = growth_kib(form, write);
    println!("{name}: {told}");
    assert!(told.contains("accepted false") && told.contains(reason), "{name}: {told}");
    assert!(grown < MOST_KIB, "{name}: {told}");
}

/// Files of as many rows as are taken, all different, all good but the last.
#[rstest]
#[case::impossible_temperature(
    "readings",
    "bridge,2024-05-01T00:00:00Z,1e3,",
    "line 1000001, column value_c: must be a temperature"
)]
#[case::one_key_with_two_values(
    "readings",
    "bridge,2020-01-01T00:00:00Z,9.5,",
    "line 1000001, column value_c: line 2 says something else"
)]
#[case::bad_instant("readings", "bridge,2024-13-01T00:00:00Z,9.5,", "line 1000001, column at: must be an instant")]
#[case::negative_count(
    "records",
    "bridge,2024-05-01,2024-05-08,olives,-1,last",
    "line 250001, column count: must not be negative"
)]
#[case::unknown_reach(
    "records",
    "nowhere,2024-05-01,2024-05-08,olives,1,last",
    "line 250001, column site: is not a known reach"
)]
#[case::one_record_with_two_values(
    "records",
    "bridge,2024-05-01,2024-05-08,olives,9,sample of the ford by lamplight 0",
    "line 250001, column count: line 2 says something else"
)]
fn good_rows_before_a_wrong_one_cost_no_memory(
    #[case] form: &'static str,
    #[case] last: &'static str,
    #[case] reason: &str,
) {
    if peak_kib().is_none() {
        println!("SKIPPED: this system does not tell its peak memory");
        return;
    }
    let write = move |out: &mut std::io::BufWriter<&std::fs::File>| {
        if form == "records" {
            out.write_all(b"site,date_from,date_to,taxon,count,id\n").unwrap();
            for row in 0..249_999 {
                writeln!(out, "bridge,2024-05-01,2024-05-08,olives,4,sample of the ford by lamplight {row}").unwrap();
            }
        } else {
            out.write_all(b"site,at,value_c,flag\n").unwrap();
            for row in 0..999_999 {
                let at = at("2020-01-01T00:00:00Z") + chrono::TimeDelta::minutes(row);
                writeln!(out, "bridge,{},9.25,", at.format("%FT%TZ")).unwrap();
            }
        }
        writeln!(out, "{last}").unwrap();
    };
    refused_within_bounds(last, form, reason, Box::new(write));
}

/// Reads the answer of the file named in the environment and prints by how much the peak grew.
#[test]
#[ignore = "started by the test below"]
#[allow(clippy::disallowed_methods, reason = "how the other process is told its file")]
fn answer_alone() {
    let bytes = std::fs::read(std::env::var(FILE).unwrap()).unwrap();
    let before = peak_kib().unwrap();
    let page = subimago::ingest::temperature::hubeau::page(&bytes, &crate::answers::asked()).unwrap();
    println!("grew {} KiB, {} rows", peak_kib().unwrap() - before, page.readings.len());
}

/// The largest answer that is taken at all, in the form of most words a row.
#[test]
fn the_largest_answer_of_a_service_costs_what_is_stated() {
    if peak_kib().is_none() {
        println!("SKIPPED: this system does not tell its peak memory");
        return;
    }
    let most = subimago::ingest::client::Limits::default().body_bytes;
    let row = |hour: usize| {
        let mut row = crate::answers::hubeau_row("10:00:00", &serde_json::json!(11.5));
        row["heure_mesure_temp"] =
            serde_json::json!(format!("{:02}:{:02}:{:02}", hour / 3600 % 24, hour / 60 % 60, hour % 60));
        for name in 0..24 {
            row[format!("libelle_{name:02}")] = serde_json::json!("words of twenty one");
        }
        row.to_string()
    };
    let mut text = "{\"count\":1,\"next\":null,\"data\":[".to_owned();
    let mut rows = 0;
    while text.len() < most - 2048 {
        text.push_str(if rows > 0 { "," } else { "" });
        text.push_str(&row(rows));
        rows += 1;
    }
    text.push_str("]}");
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), text).unwrap();
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "memory::answer_alone", "--ignored", "--nocapture"])
        .env(FILE, file.path())
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let (_, told) = said.split_once("grew ").unwrap_or_else(|| panic!("{said}"));
    println!("{rows} rows in {} MiB: grew {}", most >> 20, told.lines().next().unwrap());
    let grown: u64 = told.split(' ').next().unwrap().parse().unwrap();
    assert!(grown > 1024, "it was read: {told}");
    assert!(grown < 12 * most as u64 / 1024, "{told}");
}
