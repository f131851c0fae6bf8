//! Words that have no place in the project: paths of one machine, hosts of package registries,
//! marks of how the work was organised.

use std::path::{Path, PathBuf};

/// Files and folders that are read. `Cargo.lock` is not: cargo writes its registry's address there.
const PLACES: [&str; 8] = ["src", "tests", "migrations", "openapi", "docker", ".ci", ".github", "benches"];
const FILES: [&str; 8] = [
    "README.md",
    "DEVELOPERS.md",
    "Cargo.toml",
    "clippy.toml",
    "deny.toml",
    "rustfmt.toml",
    ".gitignore",
    ".dockerignore",
];

/// The words, each in two halves so that this file does not hold them. The last column names the
/// places that may use the word.
const WORDS: [(&str, &str, &[&str]); 12] = [
    ("/wo", "rk/", &[]),
    ("/ro", "ot/", &[]),
    ("/ho", "me/", &[]),
    ("/tm", "p/", &[]),
    ("/Us", "ers/", &[]),
    ("localhost:", "5432", &[]),
    ("../sha", "red", &["tests/outside", ".ci"]),
    ("contract", ".md", &[]),
    ("science", ".md", &[]),
    ("product", ".md", &[]),
    ("FIX", "ME", &[]),
    ("Co-author", "ed-by", &[]),
];

fn faults(path: &Path, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (number, line) in text.lines().enumerate() {
        for (head, tail, allowed) in WORDS {
            let word = format!("{head}{tail}");
            if line.contains(&word) && !allowed.iter().any(|place| path.starts_with(place)) {
                found.push(format!("{}:{}: {word}", path.display(), number + 1));
            }
        }
    }
    found
}

#[test]
fn no_file_holds_a_forbidden_word() {
    let mut paths: Vec<PathBuf> = FILES.iter().map(PathBuf::from).filter(|p| super::root().join(p).exists()).collect();
    paths.extend(PLACES.iter().flat_map(|place| super::files_under(place)));
    assert!(paths.len() > 20, "the folders are read");
    let mut all = Vec::new();
    for path in paths {
        // Pictures and recorded binary answers are no text.
        if let Ok(text) = std::fs::read_to_string(super::root().join(&path)) {
            all.extend(faults(&path, &text));
        }
    }
    super::hold("Words without a place in the project", &all);
}

#[test]
fn each_word_is_found_where_it_is_forbidden() {
    for (head, tail, allowed) in WORDS {
        let text = format!("a\n// see {head}{tail}x");
        assert_eq!(faults(Path::new("src/a.rs"), &text), [format!("src/a.rs:2: {head}{tail}")]);
        for place in allowed {
            assert!(faults(&Path::new(place).join("a.rs"), &text).is_empty());
        }
    }
    assert!(faults(Path::new("src/a.rs"), "https://example.org/work").is_empty());
}
