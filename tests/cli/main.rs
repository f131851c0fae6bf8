//! The program as people call it: exit codes, what goes where, and the whole way from files to a
//! forecast.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    clippy::type_complexity,
    reason = "a test stops at the first surprise, says what it measured, and is read once"
)]
#![allow(missing_docs, reason = "tests")]

mod demo;
mod describe;
mod digest;
mod export;
mod import;
mod sync;
mod token;
mod usage;

use std::path::Path;
use std::process::{Command, Output};

use tempfile::TempDir;

/// A folder of its own with a database, in which the program is called.
pub(crate) struct Desk {
    folder: TempDir,
}

impl Desk {
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::tempdir().expect("a folder") }
    }

    /// A desk whose database holds the river of `river.toml`.
    pub(crate) fn with_river() -> Self {
        let desk = Self::new();
        desk.write("river.toml", RIVER);
        desk.ok(&["import", "setup", "river.toml"]);
        desk
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    pub(crate) fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path().join(name), text).expect("written");
    }

    /// Calls the program.
    pub(crate) fn call(&self, arguments: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_subimago"));
        command.args(arguments).current_dir(self.path()).env_clear();
        command.output().expect("the program starts")
    }

    /// Calls the program and gives what it printed; it must succeed.
    pub(crate) fn ok(&self, arguments: &[&str]) -> String {
        let output = self.call(arguments);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", errors(&output));
        String::from_utf8(output.stdout).expect("text")
    }

    /// Calls the program, which must fail with `code` and print no result; gives its words.
    pub(crate) fn fails(&self, code: i32, arguments: &[&str]) -> String {
        let output = self.call(arguments);
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {}", errors(&output));
        assert!(output.stdout.is_empty(), "{arguments:?} printed a result");
        errors(&output)
    }

    /// Calls the program with `--json` and reads the one document that standard output must be.
    pub(crate) fn json(&self, arguments: &[&str]) -> serde_json::Value {
        let text = self.ok(&[arguments, &["--json"]].concat());
        serde_json::from_str(&text).unwrap_or_else(|e| panic!("{arguments:?}: {e}: {text}"))
    }
}

pub(crate) fn errors(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// An invented river.
pub(crate) const RIVER: &str = r#"
[watershed]
slug = "river-ostrey"
name = "River Ostrey (invented)"
time_zone = "Europe/London"

[[gauge]]
slug = "weir"
name = "At the weir"

[[reach]]
slug = "long-bridge"
name = "Long Bridge"
latitude = 52.30
longitude = -3.08
gauges = ["weir"]

[[taxon]]
slug = "ephemera-danica"
scientific_name = "Ephemera danica"
rank = "species"
"#;
