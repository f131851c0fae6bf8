//! The brook as a user would set it up: files in a folder, a database beside them, commands.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

use crate::shared;

pub(crate) const WATERSHED: &str = "hubbard-brook";
pub(crate) const ORDERS: [(&str, &str); 4] =
    [("caddisfly", "Trichoptera"), ("dipteran", "Diptera"), ("mayfly", "Ephemeroptera"), ("stonefly", "Plecoptera")];

/// A folder with the brook's database.
pub(crate) struct Brook {
    pub(crate) folder: TempDir,
}

/// The path of a file of the brook; `None` after saying that the test is skipped.
pub(crate) fn file(name: &str) -> Option<PathBuf> {
    shared::path(&format!("data/emergence/hubbard-brook/{name}"))
}

/// As [`file()`], for use once a test knows that the data are there.
pub(crate) fn data(name: &str) -> PathBuf {
    file(name).expect("the test has looked for the data before")
}

/// Rows of a table as named cells.
pub(crate) fn rows(path: &Path) -> Vec<BTreeMap<String, String>> {
    csv::Reader::from_path(path).unwrap().deserialize().map(|row| row.unwrap()).collect()
}

impl Brook {
    pub(crate) fn new() -> Self {
        let brook = Self { folder: tempfile::tempdir().unwrap() };
        std::fs::write(brook.path("brook.toml"), setup_file()).unwrap();
        brook
    }

    /// With setup, temperatures and records imported.
    pub(crate) fn imported() -> Self {
        let brook = Self::new();
        brook.ok(&["import", "setup", "brook.toml"]);
        brook.import_readings("temperature_daily.csv");
        brook.import_records(&data("emergence.csv"));
        brook
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn import_readings(&self, name: &str) -> Output {
        std::fs::write(self.path("flags.csv"), "column,from,to\nflag,logger,good\nflag,filled,good\n").unwrap();
        let file = data(name);
        let file = file.to_str().unwrap();
        self.ok(&[
            "import",
            "readings",
            file,
            "--watershed",
            WATERSHED,
            "--columns",
            "flag=origin",
            "--map",
            "flags.csv",
        ])
    }

    pub(crate) fn import_records(&self, file: &Path) -> Output {
        self.ok(&["import", "records", file.to_str().unwrap(), "--watershed", WATERSHED])
    }

    pub(crate) fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_subimago"))
            .current_dir(self.folder.path())
            .env("SUBIMAGO_DATABASE_URL", self.database_url())
            .args(arguments)
            .output()
            .unwrap()
    }

    pub(crate) fn ok(&self, arguments: &[&str]) -> Output {
        let output = self.run(arguments);
        assert!(
            output.status.success(),
            "subimago {arguments:?} ended with {:?}:\n{}",
            output.status.code(),
            String::from_utf8_lossy(&output.stderr)
        );
        output
    }

    pub(crate) fn json(&self, arguments: &[&str]) -> serde_json::Value {
        serde_json::from_slice(&self.ok(arguments).stdout).expect("one JSON document on standard output")
    }

    pub(crate) fn database_url(&self) -> String {
        format!("sqlite://{}", self.path("brook.db").display())
    }
}

fn setup_file() -> String {
    let mut text = String::from(
        "[watershed]\nslug = \"hubbard-brook\"\nname = \"Hubbard Brook\"\ntime_zone = \"America/New_York\"\n",
    );
    for row in rows(&data("sites.csv")) {
        let (site, lat, lon) = (&row["site"], &row["lat"], &row["lon"]);
        let _ = write!(
            text,
            "\n[[reach]]\nslug = \"{site}\"\nname = \"Stream {site}\"\nlatitude = {lat}\nlongitude = {lon}\n"
        );
        if site != "HBK" {
            let _ = write!(text, "\n[[gauge]]\nslug = \"{site}\"\nname = \"Logger in {site}\"\n");
        }
    }
    for (slug, name) in ORDERS {
        let _ = write!(text, "\n[[taxon]]\nslug = \"{slug}\"\nscientific_name = \"{name}\"\nrank = \"order\"\n");
    }
    text
}
