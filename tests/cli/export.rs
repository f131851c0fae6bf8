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
