//! Both databases have the same migrations. That they give the same tables is tested against the
//! databases themselves, in the tests of the store.

use std::path::Path;

const FOLDERS: [&str; 2] = ["migrations/sqlite", "migrations/postgres"];

/// Faults in two lists of file names `NNNN_name.sql`.
fn faults(sqlite: &[String], postgres: &[String]) -> Vec<String> {
    let mut found = Vec::new();
    if sqlite.is_empty() {
        found.push("there are no migrations".to_owned());
    }
    for (ours, theirs, folder) in [(sqlite, postgres, FOLDERS[1]), (postgres, sqlite, FOLDERS[0])] {
        found.extend(ours.iter().filter(|name| !theirs.contains(name)).map(|name| format!("{folder}: no {name}")));
    }
    for (index, name) in sqlite.iter().enumerate() {
        let number = name.split('_').next().unwrap_or_default();
        if number != format!("{:04}", index + 1) || Path::new(name).extension().is_none_or(|e| e != "sql") {
            found.push(format!("{name}: the {}th migration is {:04}_name.sql", index + 1, index + 1));
        }
    }
    found
}

fn names(folder: &str) -> Vec<String> {
    super::files_under(folder).iter().filter_map(|p| p.file_name().map(|n| n.to_string_lossy().into_owned())).collect()
}

#[test]
fn both_databases_have_the_same_migrations() {
    super::hold("Migrations agree", &faults(&names(FOLDERS[0]), &names(FOLDERS[1])));
}

#[test]
fn a_missing_or_misnumbered_migration_is_found() {
    let list = |names: &[&str]| names.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
    let good = list(&["0001_first.sql", "0002_second.sql"]);
    assert!(faults(&good, &good).is_empty());
    assert_eq!(faults(&good, &good[..1]).len(), 1);
    assert_eq!(faults(&good[..1], &good).len(), 1);
    assert_eq!(faults(&[], &[]).len(), 1);
    let gap = list(&["0001_first.sql", "0003_third.sql"]);
    assert_eq!(faults(&gap, &gap).len(), 1);
}
