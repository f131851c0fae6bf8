//! Rules of the house, read off the sources themselves. Every rule is a plain function from text to
//! faults, and each has a test that feeds it a bad sample, so that none can pass by being blind.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    clippy::type_complexity,
    reason = "a test stops at the first surprise, says what it measured, and is read once"
)]
mod layers;
mod lengths;
mod messages;
mod migrations;
mod readme;
mod source;
mod unwraps;
mod words;

use std::path::{Path, PathBuf};

/// The project's folder.
fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// All files under `folder` (relative to the project's folder), as paths relative to the project.
fn files_under(folder: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut open = vec![root().join(folder)];
    while let Some(dir) = open.pop() {
        let Ok(entries) = std::fs::read_dir(&dir) else { continue };
        for entry in entries {
            let path = entry.expect("a readable folder").path();
            if path.is_dir() {
                if !path.ends_with("node_modules") && !path.ends_with("__pycache__") {
                    open.push(path);
                }
            } else {
                found.push(path.strip_prefix(root()).expect("inside the project").to_owned());
            }
        }
    }
    found.sort();
    found
}

/// Rust files under `folder` with their text.
fn rust_files(folder: &str) -> Vec<(PathBuf, String)> {
    files_under(folder)
        .into_iter()
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .map(|path| {
            let text = read(&path);
            (path, text)
        })
        .collect()
}

/// Text of a file of the project.
fn read(path: &Path) -> String {
    std::fs::read_to_string(root().join(path)).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// Fails with every fault on a line of its own.
fn hold(rule: &str, faults: &[String]) {
    assert!(faults.is_empty(), "{rule}:\n{}", faults.join("\n"));
}
