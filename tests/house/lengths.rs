//! One concept per file, and short.

use std::path::Path;

/// Most lines of a file.
const MOST: usize = 400;

fn fault(path: &Path, text: &str) -> Option<String> {
    let lines = text.lines().count();
    (lines > MOST).then(|| format!("{}: {lines} lines, at most {MOST}", path.display()))
}

#[test]
fn files_are_short() {
    let faults: Vec<String> = ["src", "tests"]
        .iter()
        .flat_map(|folder| super::rust_files(folder))
        .filter_map(|(path, text)| fault(&path, &text))
        .collect();
    super::hold("Files are short", &faults);
}

#[test]
fn a_long_file_is_found() {
    let path = Path::new("src/long.rs");
    assert!(fault(path, &"x\n".repeat(MOST)).is_none());
    assert!(fault(path, &"x\n".repeat(MOST + 1)).is_some());
}
