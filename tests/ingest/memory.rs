//! Wrong files must not cost memory: each import runs in a process of its own, whose peak is read.

use std::io::Write as _;
use std::process::Command;

use crate::support::{Club, options};

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
    let before = peak_kib().unwrap();
    let document = club.readings_from(Box::new(std::fs::File::open(path).unwrap()), &options()).await;
    println!(
        "grew {} KiB, accepted {}, {:?}",
        peak_kib().unwrap() - before,
        document.accepted,
        document.faults.first()
    );
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
        ("300 MiB", "too large", Box::new(move |out| rows(out, 14_000_000))),
        ("two million rows", "too large", Box::new(move |out| rows(out, 2_000_000))),
        ("one long line", "longer than", Box::new(|out| out.write_all(&vec![b'a'; 40_000_000]).unwrap())),
        (
            "an open quote",
            "never closed",
            Box::new(move |out| {
                out.write_all(b"site,date,tmean_c\nbridge,\"2024-05-01,9\n").unwrap();
                rows(out, 900_000);
            }),
        ),
        (
            "not UTF-8 at the end",
            "not UTF-8",
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
