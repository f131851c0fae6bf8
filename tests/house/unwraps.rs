//! Outside tests nothing ends the process by a shortcut. The lints say the same; this also sees
//! macro bodies and files that a lint was switched off in.

use std::path::Path;

use crate::source::{each_run, ident, is_punct, tokens_without_tests};

const METHODS: [&str; 2] = ["unwrap", "expect"];
const MACROS: [&str; 5] = ["panic", "todo", "unimplemented", "dbg", "unreachable"];

fn faults(path: &Path, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    each_run(&tokens_without_tests(text), &mut |run| {
        for at in 0..run.len() {
            let Some(name) = ident(run.get(at)) else { continue };
            let line = run[at].span().start().line;
            let method = METHODS.contains(&name.as_str()) && at > 0 && is_punct(&run[at - 1], '.');
            let mac = MACROS.contains(&name.as_str()) && run.get(at + 1).is_some_and(|t| is_punct(t, '!'));
            if method || mac {
                found.push(format!("{}:{line}: {name}", path.display()));
            }
        }
    });
    found
}

/// True for `x/tests.rs` when `x/mod.rs` or `x.rs` compiles it for tests only.
fn is_test_module(path: &Path) -> bool {
    let Some(folder) = path.parent().filter(|_| path.ends_with("tests.rs")) else { return false };
    [folder.join("mod.rs"), folder.with_extension("rs")]
        .iter()
        .filter(|parent| super::root().join(parent).exists())
        .any(|parent| super::read(parent).contains("#[cfg(test)]\nmod tests;"))
}

#[test]
fn no_shortcut_ends_the_process() {
    let files = super::rust_files("src");
    let faults: Vec<String> =
        files.iter().filter(|(path, _)| !is_test_module(path)).flat_map(|(path, text)| faults(path, text)).collect();
    super::hold("No unwrap, expect, panic, todo, unimplemented, unreachable or dbg outside tests", &faults);
}

#[test]
fn each_shortcut_is_found_and_tests_are_spared() {
    let path = Path::new("src/bad.rs");
    let bad = [
        "fn f() { x.unwrap(); }",
        "fn f() { x.expect(\"y\"); }",
        "fn f() { todo!() }",
        "fn f() { panic!(\"\") }",
        "fn f() { html! { (x.unwrap()) } }",
        "fn f() { unreachable!() }",
    ];
    for text in bad {
        assert_eq!(faults(path, text).len(), 1, "{text}");
    }
    let good = [
        "#[expect(clippy::x, reason = \"y\")] fn f() { x.unwrap_or(1); }",
        "// x.unwrap()",
        "#[cfg(test)] mod tests { fn f() { x.unwrap(); } }",
        "fn f() { g(\"x.unwrap()\") }",
    ];
    for text in good {
        assert!(faults(path, text).is_empty(), "{text}");
    }
}
