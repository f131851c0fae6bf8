//! Directions between the layers: the table of the crate's front page, held against the paths that
//! the code uses.

use std::collections::BTreeMap;
use std::path::Path;

use proc_macro2::{Delimiter, TokenTree};

use crate::source::{each_run, ident, is_punct, tokens_without_tests};

/// What each layer may name of the crate besides itself.
const KNOWS: [(&str, &[&str]); 13] = [
    ("domain", &[]),
    ("model", &["domain"]),
    ("store", &["domain"]),
    ("ingest", &["domain"]),
    ("words", &[]),
    ("app", &["domain", "model", "store", "ingest", "clock", "words"]),
    ("jobs", &["domain", "app", "clock", "config"]),
    ("http", &["domain", "app", "jobs", "clock", "config", "words"]),
    ("cli", &["domain", "app", "jobs", "http", "clock", "config", "telemetry", "words"]),
    ("config", &["domain"]),
    ("clock", &[]),
    ("telemetry", &["config"]),
    ("main", &["cli"]),
];

/// The layer of a file and how many modules deep it lies (`src/domain/place.rs`: domain, 2).
fn place_of(path: &Path) -> (String, usize) {
    let parts: Vec<String> =
        path.with_extension("").components().skip(1).map(|c| c.as_os_str().to_string_lossy().into_owned()).collect();
    let depth = parts.iter().filter(|p| *p != "mod" && *p != "lib" && *p != "main").count();
    (parts.first().cloned().unwrap_or_default(), depth)
}

/// The names that follow the crate's root in `text`: `crate::x`, `crate::{x, y}`, `subimago::x` and
/// as many `super::` as lead out of the file's layer.
fn roots_named(text: &str, depth: usize) -> Vec<(String, usize)> {
    let mut named = Vec::new();
    each_run(&tokens_without_tests(text), &mut |run| {
        let mut at = 0;
        while at < run.len() {
            let (after, is_root) = root_path(run, at, depth);
            if is_root {
                match run.get(after) {
                    Some(TokenTree::Group(g)) if g.delimiter() == Delimiter::Brace => {
                        let mut first = true;
                        for token in g.stream() {
                            if let (true, TokenTree::Ident(i)) = (first, &token) {
                                named.push((i.to_string(), i.span().start().line));
                            }
                            first = is_punct(&token, ',');
                        }
                    }
                    Some(TokenTree::Ident(i)) => named.push((i.to_string(), i.span().start().line)),
                    _ => {}
                }
            }
            at = after.max(at + 1);
        }
    });
    named
}

/// Reads a path prefix at `at`; gives the index after it and whether it reached the crate's root.
fn root_path(run: &[TokenTree], at: usize, depth: usize) -> (usize, bool) {
    let colons =
        |i: usize| run.get(i).is_some_and(|t| is_punct(t, ':')) && run.get(i + 1).is_some_and(|t| is_punct(t, ':'));
    match ident(run.get(at)).as_deref() {
        Some("crate" | "subimago") if colons(at + 1) => (at + 3, true),
        Some("super") => {
            let (mut i, mut ups) = (at, 0);
            while ident(run.get(i)).as_deref() == Some("super") && colons(i + 1) {
                (i, ups) = (i + 3, ups + 1);
            }
            (i, ups >= depth && ups > 0)
        }
        _ => (at + 1, false),
    }
}

/// Paths of `text` that the table does not allow to `path`.
fn faults(path: &Path, text: &str) -> Vec<String> {
    let table: BTreeMap<&str, &[&str]> = KNOWS.into_iter().collect();
    let (layer, depth) = place_of(path);
    if layer == "lib" {
        return Vec::new();
    }
    let Some(allowed) = table.get(layer.as_str()) else {
        return vec![format!("{}: layer {layer} is not in the table", path.display())];
    };
    roots_named(text, depth)
        .into_iter()
        .filter(|(name, _)| table.contains_key(name.as_str()) && *name != layer && !allowed.contains(&name.as_str()))
        .map(|(name, line)| format!("{}:{line}: {layer} must not know {name}", path.display()))
        .collect()
}

#[test]
fn the_code_obeys_the_table() {
    let faults: Vec<String> = super::rust_files("src").iter().flat_map(|(path, text)| faults(path, text)).collect();
    super::hold("Layers may name only what the table of tests/house/layers.rs allows", &faults);
}

#[test]
fn the_table_and_the_front_page_name_the_same_layers() {
    let text = super::read(Path::new("src/lib.rs"));
    let declared: Vec<&str> = text.lines().filter_map(|l| l.strip_prefix("pub mod ")?.strip_suffix(';')).collect();
    for name in &declared {
        assert!(KNOWS.iter().any(|(layer, _)| layer == name), "{name} is missing in the table");
        assert!(text.contains(&format!("[`{name}`]")) || *name == "telemetry", "{name} is missing on the front page");
    }
    for (layer, _) in KNOWS.iter().filter(|(layer, _)| *layer != "main") {
        assert!(declared.contains(layer), "{layer} of the table does not exist");
    }
}

#[test]
fn a_path_against_the_direction_is_found_in_every_form() {
    let bad = [
        ("src/domain/place.rs", "use crate::store::Db;"),
        ("src/domain/place.rs", "use crate::{domain::Slug, store::Db};"),
        ("src/domain/place.rs", "fn f() { let _ = crate::model::thermal::sum(); }"),
        ("src/domain/place.rs", "use super::super::http::serve;"),
        ("src/model/emergence/fit.rs", "use super::super::super::store::Db;"),
        ("src/store/mod.rs", "use super::ingest::csv;"),
        ("src/model/mod.rs", "fn f() { vec![crate::clock::SystemClock]; }"),
        ("src/http/router.rs", "use crate::store::Db;"),
        ("src/http/router.rs", "use crate::cli::run;"),
        ("src/main.rs", "fn main() { subimago::store::open(); }"),
        ("src/attic.rs", ""),
    ];
    for (path, text) in bad {
        assert_eq!(faults(Path::new(path), text).len(), 1, "{path}: {text}");
    }
    let good = [
        ("src/app/fit.rs", "use crate::{domain::Slug, store::Db}; use super::super::model::x;"),
        ("src/domain/place.rs", "use super::Slug; use super::store::odd_but_inside_domain;"),
        ("src/store/mod.rs", "#[cfg(test)] mod tests { use crate::app::X; }"),
    ];
    for (path, text) in good {
        assert!(faults(Path::new(path), text).is_empty(), "{path}: {text}");
    }
}
