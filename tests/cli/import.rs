use std::fmt::Write as _;

use super::{Desk, RIVER, errors};

const HEAD: &str = "site,date_from,date_to,taxon,abundance_class,hour_start,hour_end,effort\n";

#[test]
fn a_wrong_row_is_told_and_stores_nothing_unless_best_effort() {
    let desk = Desk::with_river();
    let good = "long-bridge,2025-05-20,2025-05-20,ephemera-danica,sparse,14:00,16:00,1\n";
    let bad = "long-bridge,2025-05-21,2025-05-21,ephemera-danica,swarming,14:00,16:00,1\n";
    desk.write("notebook.csv", &format!("{HEAD}{good}{bad}"));
    let import = ["import", "records", "notebook.csv", "--watershed", "river-ostrey"];
    let told = desk.fails(1, &import);
    assert!(told.contains("line 3") && told.contains("swarming"), "{told}");
    let best = desk.json(&[&import[..], &["--best-effort"]].concat());
    assert_eq!((&best["created"], &best["rejected"]), (&1.into(), &1.into()));
    let again = desk.json(&[&import[..], &["--best-effort"]].concat());
    assert_eq!((&again["created"], &again["unchanged"]), (&0.into(), &1.into()));
}

#[test]
fn a_faulty_table_of_a_setup_is_told_and_refuses_all_unless_best_effort() {
    let desk = Desk::new();
    desk.write("river.toml", &RIVER.replace("rank = \"species\"", ""));
    let told = desk.fails(1, &["import", "setup", "river.toml"]);
    assert!(told.contains("taxon.rank") && told.contains("--best-effort"), "{told}");
    let best = desk.json(&["import", "setup", "river.toml", "--best-effort"]);
    assert_eq!((&best["created"], &best["rejected"], &best["accepted"]), (&3.into(), &1.into(), &true.into()));
    assert_eq!(best["faults"][0]["column"], "taxon.rank");
    desk.write("river.toml", &RIVER.replace("Europe/London", "here"));
    let told = desk.fails(1, &["import", "setup", "river.toml", "--best-effort"]);
    assert!(told.contains("watershed.time_zone") && !told.contains("--best-effort"), "{told}");
}

#[test]
fn a_refused_file_still_gives_one_json_document() {
    let desk = Desk::with_river();
    desk.write("notebook.csv", &format!("{HEAD}nowhere,2025-05-20,2025-05-20,ephemera-danica,none,14:00,16:00,1\n"));
    let output = desk.call(&["import", "records", "notebook.csv", "--watershed", "river-ostrey", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    let document: serde_json::Value = serde_json::from_slice(&output.stdout).expect("one document");
    assert_eq!(document["accepted"], false);
    assert!(errors(&output).contains("nowhere"));
}

#[test]
fn a_dry_run_stores_nothing_and_columns_and_codes_can_be_named() {
    let desk = Desk::with_river();
    desk.write(
        "notebook.csv",
        "station,day,until,insect,seen,hour_start,hour_end\nLB,2025-05-20,2025-05-20,ED,2,14:00,16:00\n",
    );
    desk.write(
        "codes.csv",
        "column,from,to\nsite,LB,long-bridge\ntaxon,ED,ephemera-danica\nabundance_class,2,moderate\n",
    );
    let import = [
        "import",
        "records",
        "notebook.csv",
        "--watershed",
        "river-ostrey",
        "--map",
        "codes.csv",
        "--columns",
        "site=station,date_from=day,date_to=until,taxon=insect,abundance_class=seen",
    ];
    let dry = desk.json(&[&import[..], &["--dry-run"]].concat());
    assert_eq!((&dry["created"], &dry["dry_run"]), (&1.into(), &true.into()));
    let real = desk.json(&import);
    assert_eq!(real["created"], 1, "the dry run had stored nothing");
}

#[test]
fn files_become_a_forecast() {
    let desk = Desk::with_river();
    desk.write("temperature.csv", &temperatures());
    desk.write("notebook.csv", &visits());
    desk.ok(&["import", "readings", "temperature.csv", "--watershed", "river-ostrey"]);
    desk.ok(&["import", "records", "notebook.csv", "--watershed", "river-ostrey"]);
    let fitted = desk.call(&["fit", "--watershed", "RIVER-OSTREY"]);
    assert!(fitted.status.success(), "{}", errors(&fitted));
    assert!(fitted.stdout.is_empty() && errors(&fitted).contains("ephemera-danica brood 1"));
    let ask = ["forecast", "--watershed", "river-ostrey", "--season", "2026", "--as-of", "2026-05-01"];
    let list = desk.json(&ask);
    let forecast = &list["items"][0];
    assert_eq!(forecast["reach"], "long-bridge");
    assert_eq!(forecast["days"].as_array().map(Vec::len), Some(365));
    assert_eq!(desk.json(&ask)["items"][0]["days"], forecast["days"], "the same question has the same answer");
    let text = desk.ok(&ask);
    assert!(text.contains("ephemera-danica brood 1") && text.contains("! "), "cautions stand below: {text}");
}

/// Four winters and springs and the next, a smooth invented year.
fn temperatures() -> String {
    let mut text = "site,date,tmean_c\n".to_owned();
    let mut date = chrono::NaiveDate::from_ymd_opt(2022, 1, 1).expect("a date");
    while date < chrono::NaiveDate::from_ymd_opt(2026, 5, 1).expect("a date") {
        let phase = std::f64::consts::TAU * (f64::from(chrono::Datelike::ordinal(&date)) - 205.0) / 365.25;
        writeln!(text, "weir,{date},{:.2}", 10.5 + 5.5 * phase.cos()).expect("text");
        date = date.succ_opt().expect("a date");
    }
    text
}

/// Two visits a week from April to July: sparse at both ends of a fortnight around 28 May.
fn visits() -> String {
    let mut text = HEAD.to_owned();
    for year in 2022..=2025 {
        for step in 0..30 {
            let day = 95 + step * 3 + step / 2;
            let class = match i32::abs(day - 148) {
                0..=3 => "heavy",
                4..=8 => "moderate",
                9..=14 => "sparse",
                _ => "none",
            };
            let date = chrono::NaiveDate::from_yo_opt(year, day.unsigned_abs()).expect("a date");
            writeln!(text, "long-bridge,{date},{date},ephemera-danica,{class},13:00,17:00,1").expect("text");
        }
    }
    text
}

#[test]
fn an_export_of_a_logger_is_told_first_and_taken_once_confirmed() {
    let desk = Desk::with_river();
    let export = "Serial,17\nDate Time,Temp\n2025-05-01 13:00:00,50\n2025-05-01 13:30:00,51.8\n";
    desk.write("logger.csv", export);
    let import = ["import", "readings", "logger.csv", "--watershed", "river-ostrey"];
    let told = desk.fails(1, &import);
    assert!(told.contains("header on line 2, 2 rows") && told.contains("nothing says where the clock stood"), "{told}");
    assert!(told.contains("--form logger --gauge GAUGE --zone ZONE --unit c|f"), "{told}");
    let confirmed = [&import[..], &["--form", "logger", "--gauge", "weir", "--zone", "-04:00"]].concat();
    assert!(desk.fails(1, &confirmed).contains("--unit"));
    let taken = desk.json(&[&confirmed[..], &["--unit", "f"]].concat());
    assert_eq!((&taken["created"], &taken["rejected"]), (&2.into(), &0.into()));
}
