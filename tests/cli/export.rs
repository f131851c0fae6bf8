//! `export` and `import archive`.

use crate::{Desk, errors};

const NOTEBOOK: &str = "site,date_from,date_to,taxon,abundance_class,hour_start,hour_end,effort\n\
    long-bridge,2025-05-16,2025-05-16,ephemera-danica,none,14:00,17:00,2\n\
    long-bridge,2025-05-20,2025-05-20,ephemera-danica,moderate,14:00,16:30,1\n";
const READINGS: &str =
    "site,date,tmean_c,tmin_c,tmax_c,flag\nweir,2025-05-01,9.8,-0.5,11.2,\nweir,2025-05-02,9.9,9,11,suspect\n";

fn filled() -> Desk {
    let desk = Desk::with_river();
    desk.write("notebook.csv", NOTEBOOK);
    desk.write("readings.csv", READINGS);
    desk.ok(&["import", "records", "notebook.csv", "--watershed", "river-ostrey"]);
    desk.ok(&["import", "readings", "readings.csv", "--watershed", "river-ostrey"]);
    desk
}

#[test]
fn tables_come_back_unchanged_and_go_to_standard_output_or_a_file() {
    let desk = filled();
    for what in ["records", "readings"] {
        let printed = desk.ok(&["export", what, "--watershed", "river-ostrey"]);
        desk.ok(&["export", what, "--watershed", "RIVER-OSTREY", "--format", "csv", "--out", "out.csv"]);
        assert_eq!(std::fs::read_to_string(desk.path().join("out.csv")).expect("written"), printed);
        assert_eq!(printed.lines().count(), 3, "{printed}");
        let again = desk.json(&["import", what, "out.csv", "--watershed", "river-ostrey"]);
        assert_eq!((&again["unchanged"], &again["total"]), (&2.into(), &2.into()), "{what}");
    }
    let printed = desk.ok(&["export", "readings", "--watershed", "river-ostrey"]);
    assert!(printed.contains("weir,2025-05-01,9.8,-0.5,11.2,,\n") && printed.contains(",suspect,"), "{printed}");
    assert_eq!(desk.ok(&["export", "reports", "--watershed", "river-ostrey"]).lines().count(), 1);
    let none = desk.ok(&["export", "readings", "--watershed", "river-ostrey", "--step", "instant"]);
    assert_eq!(none, "site,at,value_c,flag,known_at\n");
    assert!(desk.fails(1, &["export", "records", "--watershed", "nowhere"]).contains("watershed not found"));
    assert!(
        desk.fails(1, &["export", "readings", "--watershed", "river-ostrey", "--gauge", "x"])
            .contains("gauge not found")
    );
    assert!(
        desk.fails(1, &["export", "records", "--watershed", "river-ostrey", "--out", "no/out.csv"]).contains("to mend")
    );
}

#[test]
fn an_archive_needs_a_licence_and_comes_back_unchanged() {
    let desk = filled();
    let export = ["export", "archive", "--watershed", "river-ostrey", "--out", "ostrey.zip"];
    assert!(desk.fails(2, &export).contains("--license cc0"));
    let licensed = [&export[..], &["--license", "cc-by"]].concat();
    assert!(desk.fails(2, &licensed).contains("--rights-holder"));
    assert!(desk.fails(2, &[&export[..], &["--license", "free", "--rights-holder", "x"]].concat()).contains("address"));
    assert!(!desk.path().join("ostrey.zip").exists(), "nothing is half written");
    let made = desk.call(&[&licensed[..], &["--rights-holder", "Alder Fold"]].concat());
    assert!(made.status.success() && errors(&made).contains("2 events and 2 occurrences"), "{}", errors(&made));
    let files = std::fs::read_dir(desk.path()).expect("a folder").count();
    desk.ok(&[&licensed[..], &["--rights-holder", "Alder Fold"]].concat());
    assert_eq!(std::fs::read_dir(desk.path()).expect("a folder").count(), files, "no half files are left");
    let again = desk.json(&["import", "archive", "ostrey.zip", "--watershed", "river-ostrey"]);
    assert_eq!((&again["unchanged"], &again["total"]), (&2.into(), &2.into()));
    desk.write("broken.zip", "no archive");
    assert!(
        desk.fails(1, &["import", "archive", "broken.zip", "--watershed", "river-ostrey"]).contains("no zip archive")
    );
    desk.write("s.toml", "[archive]\nlicense = \"cc0\"\nrights_holder = \"Alder Fold\"\n");
    desk.ok(&[&export[..], &["--config", "s.toml", "--vocabulary", "tdwg"]].concat());
}

const LENT: &str = r#"
[watershed]
slug = "river-ostrey"
name = "River Ostrey (invented)"
time_zone = "Europe/London"

[[gauge]]
slug = "weir"
name = "At the weir"
licence = "CC BY 4.0"
citation = "Ostrey Board (invented), 2025"
"#;

#[test]
fn licences_and_citations_go_out_with_what_they_are_of() {
    let desk = Desk::with_river();
    desk.write("lent.toml", LENT);
    desk.ok(&["import", "setup", "lent.toml"]);
    desk.write("notebook.csv", NOTEBOOK);
    desk.write("own.csv", "site,date_from,date_to,taxon,count\nlong-bridge,2025-05-01,2025-05-08,ephemera-danica,3\n");
    desk.write("readings.csv", READINGS);
    let by = ["--watershed", "river-ostrey"];
    let cited = ["--licence", "CC0 1.0", "--citation", "=Fold's notebook & \"log\", 2025"];
    desk.ok(&[&["import", "records", "notebook.csv", "--dry-run"], &by[..], &cited].concat());
    desk.ok(&[&["import", "records", "own.csv"], &by[..]].concat());
    let plain = desk.ok(&[&["export", "records"], &by[..]].concat());
    assert!(!plain.contains("citation"), "a trial says nothing: {plain}");
    desk.ok(&[&["import", "records", "notebook.csv"], &by[..], &cited].concat());
    desk.ok(&[&["import", "readings", "readings.csv"], &by[..]].concat());

    let records = desk.ok(&[&["export", "records", "--out", "out.csv"], &by[..]].concat());
    assert_eq!(records, "");
    let records = std::fs::read_to_string(desk.path().join("out.csv")).expect("written");
    let lines: Vec<&str> = records.lines().collect();
    assert!(lines[0].ends_with(",air_c,rain_mm,licence,citation"), "{records}");
    let theirs = lines.iter().filter(|line| line.ends_with(",CC0 1.0,\"'=Fold's notebook & \"\"log\"\", 2025\""));
    assert_eq!((theirs.count(), lines.iter().filter(|line| line.ends_with(",,")).count()), (2, 1), "{records}");
    let again = desk.json(&[&["import", "records", "out.csv"], &by[..]].concat());
    assert_eq!(
        (&again["unchanged"], &again["unknown_columns"]),
        (&3.into(), &serde_json::json!(["licence", "citation"]))
    );
    let readings = desk.ok(&[&["export", "readings"], &by[..]].concat());
    assert!(
        readings.lines().skip(1).all(|line| line.ends_with(",CC BY 4.0,\"Ostrey Board (invented), 2025\"")),
        "{readings}"
    );

    let packed = ["export", "archive", "--out", "o.zip", "--license", "cc-by", "--rights-holder", "Alder Fold"];
    desk.ok(&[&packed[..], &by].concat());
    let file = std::fs::File::open(desk.path().join("o.zip")).expect("packed");
    let mut archive = zip::ZipArchive::new(file).expect("an archive");
    let mut text = |name: &str| std::io::read_to_string(archive.by_name(name).expect("a file")).expect("text");
    let eml = text("eml.xml");
    let told = "Records of file:notebook.csv: =Fold&apos;s notebook &amp; &quot;log&quot;, 2025 Licence: CC0 1.0.";
    assert!(eml.contains(told), "{eml}");
    let occurrences = text("occurrence.csv");
    let with = |what: &str| occurrences.lines().filter(|line| line.contains(what)).count();
    assert_eq!((with(",CC0 1.0,"), with("/licenses/by/4.0/legalcode,")), (2, 1), "{occurrences}");
    assert!(text("meta.xml").contains("http://purl.org/dc/terms/bibliographicCitation"));
    let long = "x".repeat(201);
    assert!(desk.fails(2, &[&["import", "records", "own.csv", "--licence", &long], &by[..]].concat()).contains("200"));
}

#[test]
fn long_imports_and_exports_tell_how_far_they_are() {
    let desk = Desk::with_river();
    let mut table = "site,at,value_c\n".to_owned();
    for n in 0..20_000 {
        let (day, minute) = (n / 1440, n % 1440);
        table += &format!("weir,2025-05-{:02}T{:02}:{:02}:00Z,{}\n", day + 1, minute / 60, minute % 60, 9 + n % 2);
    }
    desk.write("long.csv", &table);
    let done = desk.call(&["import", "readings", "long.csv", "--watershed", "river-ostrey"]);
    let told = errors(&done);
    assert!(done.status.success(), "{told}");
    assert!(told.contains("storing long.csv ...\n") && told.contains("10000 of 20000\n"), "{told}");
    let out = ["export", "readings", "--watershed", "river-ostrey", "--step", "instant", "--out", "out.csv"];
    assert!(errors(&desk.call(&out)).contains("readings of river-ostrey ...\n20000 readings"));
    desk.write("short.csv", &table[..table.find("T00:10").expect("rows") - 15]);
    let short = desk.call(&["import", "readings", "short.csv", "--watershed", "river-ostrey"]);
    assert!(!errors(&short).contains("storing"), "{}", errors(&short));
}
