//! Wrong files must not cost memory: each import runs in a process of its own, whose peak is read.

use std::io::Write as _;
use std::process::Command;

use crate::support::{Club, options, said};

const FILE: &str = "SUBIMAGO_TEST_FILE";
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
    let path = std::env::var(FILE).unwrap();
    let club = Club::new().await;
    let content = club.content().await;
    let before = peak_kib().unwrap();
    let document = club.readings_from(Box::new(std::fs::File::open(path).unwrap()), &options()).await;
    let grown = peak_kib().unwrap() - before;
    assert_eq!(club.content().await, content, "a refused file stores nothing");
    println!("grew {grown} KiB, accepted {}, {}", document.accepted, said(&document).join("; "));
}

fn growth_kib(write: impl FnOnce(&mut std::io::BufWriter<&std::fs::File>)) -> (u64, String) {
    let file = tempfile::NamedTempFile::new().unwrap();
    let mut writer = std::io::BufWriter::new(file.as_file());
    write(&mut writer);
    writer.flush().unwrap();
    drop(writer);
    let output = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "memory::import_alone", "--ignored", "--nocapture"])
        .env(FILE, file.path())
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
    let cases: [(&str, &str, Write); 5] = [
        // Each is refused by a check of its own, so each must be told in that check's words.
        ("320 MiB", "line 1, column file: the file is too large: an import takes up to 50 MiB; split it by year or gauge (found \"320 MiB\")", Box::new(move |out| rows(out, 14_000_000))),
        ("two million rows", "line 1000002, column file: the file is too large: an import takes up to 1000000 rows; split it", Box::new(move |out| rows(out, 2_000_000))),
        ("one long line", "line 1, column header: the row is longer than 64 KiB", Box::new(|out| out.write_all(&vec![b'a'; 40_000_000]).unwrap())),
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
    ];
    for (name, reason, write) in cases {
        let (grown, told) = growth_kib(write);
        assert!(told.contains("accepted false") && told.contains(reason), "{name}: {told}");
        assert!(grown < MOST_KIB, "{name}: {told}");
    }
}
