//! CSV tables of check values as rows of named text cells.

use std::collections::HashMap;
use std::path::PathBuf;

pub(crate) type Row = HashMap<String, String>;

pub(crate) fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/model/data").join(name)
}

pub(crate) fn rows(name: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_path(path(name)).expect("check table");
    let rows: Vec<Row> = reader.deserialize().map(|row| row.expect("row")).collect();
    assert!(!rows.is_empty(), "{name} has no rows");
    rows
}

pub(crate) fn number(row: &Row, column: &str) -> f64 {
    row[column].parse().unwrap_or_else(|_| panic!("{column} = {:?}", row[column]))
}
