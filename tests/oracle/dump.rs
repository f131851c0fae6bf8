//! A CSV file in the folder that `SUBIMAGO_ORACLE_OUT` names.

use std::path::PathBuf;

/// An open table, or `None` after saying that nothing will be written.
///
/// # Panics
/// When the folder is named but cannot be written to.
pub(crate) fn table(name: &str, columns: &[&str]) -> Option<csv::Writer<std::fs::File>> {
    let folder = std::env::var_os("SUBIMAGO_ORACLE_OUT").filter(|value| !value.is_empty()).map(PathBuf::from);
    let Some(folder) = folder else {
        eprintln!("SKIPPED: SUBIMAGO_ORACLE_OUT is not set, {name} is not written");
        return None;
    };
    std::fs::create_dir_all(&folder).expect("the folder can be made");
    let mut writer = csv::Writer::from_path(folder.join(name)).expect("the file can be made");
    writer.write_record(columns).expect("the header can be written");
    Some(writer)
}

/// A number as text that reads back to the same bits.
pub(crate) fn exact(value: f64) -> String {
    format!("{value:e}")
}
