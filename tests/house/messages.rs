//! Messages: every language has every message, every call names one and gives it what it asks for, and none is left
//! over.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use fluent_syntax::ast;
use proc_macro2::{Delimiter, TokenTree};

use crate::source::{each_run, ident, is_punct, tokens_without_tests};

/// The language that all is written in first, and the others.
const FIRST: &str = "en";
const OTHERS: [&str; 1] = ["de"];
/// What tables of the program say in English stands there; other languages have it in this file.
const TABLES: &str = "tables.ftl";
/// Calls that choose a message of a family by a word.
const BY_WORD: [&str; 5] = ["word", "of_table", "has_table_row", "chosen", "boxes"];
/// Messages that the script of the report form names.
const OF_SCRIPT: &str = "script-";

/// Names of arguments.
type Args = BTreeSet<String>;
/// Messages with the arguments they ask for.
type Messages = BTreeMap<String, Args>;

/// The messages of a file's text.
fn messages_of(path: &str, text: &str, faults: &mut Vec<String>) -> Messages {
    let resource = fluent_syntax::parser::parse(text).unwrap_or_else(|(resource, errors)| {
        faults.extend(errors.iter().map(|error| format!("{path}: {error}")));
        resource
    });
    let mut found = Messages::new();
    for entry in resource.body {
        if let ast::Entry::Message(message) = entry {
            let mut args = Args::new();
            if let Some(pattern) = &message.value {
                in_pattern(pattern, &mut args);
            }
            if found.insert(message.id.name.to_owned(), args).is_some() {
                faults.push(format!("{path}: {} stands twice", message.id.name));
            }
        }
    }
    found
}

fn in_pattern(pattern: &ast::Pattern<&str>, args: &mut Args) {
    for element in &pattern.elements {
        if let ast::PatternElement::Placeable { expression } = element {
            in_expression(expression, args);
        }
    }
}

fn in_expression(expression: &ast::Expression<&str>, args: &mut Args) {
    match expression {
        ast::Expression::Inline(inline) => in_inline(inline, args),
        ast::Expression::Select { selector, variants } => {
            in_inline(selector, args);
            variants.iter().for_each(|variant| in_pattern(&variant.value, args));
        }
    }
}

fn in_inline(inline: &ast::InlineExpression<&str>, args: &mut Args) {
    match inline {
        ast::InlineExpression::VariableReference { id } => drop(args.insert(id.name.to_owned())),
        ast::InlineExpression::Placeable { expression } => in_expression(expression, args),
        _ => {}
    }
}

/// The messages of a language, by file.
fn of_language(language: &str, faults: &mut Vec<String>) -> BTreeMap<String, Messages> {
    let folder = format!("src/words/{language}");
    let files = super::files_under(&folder);
    assert!(!files.is_empty(), "{folder} holds messages");
    let read = |path: &Path| messages_of(&path.display().to_string(), &super::read(path), &mut *faults);
    let name = |path: &Path| path.file_name().expect("a name").to_string_lossy().into_owned();
    let mut read = read;
    files.iter().map(|path| (name(path), read(path))).collect()
}

fn unquoted(token: Option<&TokenTree>) -> Option<String> {
    match token {
        Some(TokenTree::Literal(literal)) => {
            literal.to_string().strip_prefix('"')?.strip_suffix('"').map(str::to_owned)
        }
        _ => None,
    }
}

/// What the code asks for: messages by name with the arguments given, and families.
#[derive(Default)]
struct Asked {
    messages: Vec<(String, Args, String)>,
    families: BTreeSet<String>,
}

fn ask(path: &str, text: &str, asked: &mut Asked) {
    each_run(&tokens_without_tests(text), &mut |run| {
        for (at, token) in run.iter().enumerate() {
            let Some(name) = ident(Some(token)) else { continue };
            let mark = run.get(at + 1).is_some_and(|next| is_punct(next, '!'));
            let group = |place: usize| match run.get(place) {
                Some(TokenTree::Group(g)) if g.delimiter() == Delimiter::Parenthesis => {
                    Some(g.stream().into_iter().collect::<Vec<_>>())
                }
                _ => None,
            };
            if mark && ["say", "tell"].contains(&name.as_str()) {
                let Some(inner) = group(at + 2) else { continue };
                let parts: Vec<&[TokenTree]> = inner.split(|token| is_punct(token, ',')).collect();
                let Some(key) = parts.get(1).and_then(|part| unquoted(part.first())) else { continue };
                let args = parts[2..].iter().filter(|part| part.get(1).is_some_and(|token| is_punct(token, '=')));
                let args = args.filter_map(|part| ident(part.first())).collect();
                asked.messages.push((key, args, path.to_owned()));
            } else if BY_WORD.contains(&name.as_str()) {
                // Of a choice in a form the family stands among other texts.
                let literals = group(at + 1).unwrap_or_default();
                asked.families.extend(literals.iter().filter_map(|token| unquoted(Some(token))));
            }
        }
    });
}

/// What is wrong between messages and calls.
fn held(first: &Messages, asked: &Asked, script: &str) -> Vec<String> {
    let mut faults = Vec::new();
    for (key, args, path) in &asked.messages {
        match first.get(key) {
            None => faults.push(format!("{path}: there is no message {key}")),
            Some(wanted) if wanted != args => {
                faults.push(format!("{path}: {key} asks for {wanted:?} and is given {args:?}"));
            }
            Some(_) => {}
        }
    }
    let named: BTreeSet<&str> = asked.messages.iter().map(|(key, ..)| key.as_str()).collect();
    for (key, args) in first {
        let family = asked
            .families
            .iter()
            .any(|family| key.strip_prefix(family.as_str()).is_some_and(|rest| rest.starts_with('-')));
        if !named.contains(key.as_str()) && !family {
            faults.push(format!("{key} is asked for by nobody"));
        }
        if !named.contains(key.as_str()) && !args.is_empty() {
            faults.push(format!("{key} is chosen by a word and asks for {args:?}"));
        }
        if let Some(word) = key.strip_prefix(OF_SCRIPT)
            && !script.contains(&format!("'{word}'"))
            // Chosen by the value of a field.
            && !(word.starts_with("pads-") && script.contains("`pads-${"))
        {
            faults.push(format!("{key} is not said by the script"));
        }
    }
    for (at, _) in script.match_indices("say('") {
        let word = script[at + 5..].split('\'').next().unwrap_or_default();
        if !first.contains_key(&format!("{OF_SCRIPT}{word}")) {
            faults.push(format!("the script says {word}, which is no message"));
        }
    }
    faults
}

/// What is wrong between two languages.
fn alike(first: &BTreeMap<String, Messages>, other: &BTreeMap<String, Messages>, language: &str) -> Vec<String> {
    let mut faults = Vec::new();
    for (file, messages) in first.iter().filter(|(file, _)| *file != TABLES) {
        let Some(translated) = other.get(file) else {
            faults.push(format!("{language} has no {file}"));
            continue;
        };
        for (key, args) in messages {
            match translated.get(key) {
                None => faults.push(format!("{language}/{file}: {key} is missing")),
                Some(own) if own != args => {
                    faults.push(format!("{language}/{file}: {key} uses {own:?}, not {args:?}"));
                }
                Some(_) => {}
            }
        }
        for key in translated.keys().filter(|key| !messages.contains_key(*key)) {
            faults.push(format!("{language}/{file}: {key} is no message of {FIRST}"));
        }
    }
    faults.extend(
        other.keys().filter(|file| !first.contains_key(*file)).map(|file| format!("{language}/{file} has no original")),
    );
    faults
}

fn script() -> String {
    let files = super::files_under("src/http/pages/report");
    files.iter().filter(|path| path.extension().is_some_and(|end| end == "js")).map(|path| super::read(path)).collect()
}

fn all(files: &BTreeMap<String, Messages>) -> Messages {
    files.values().flat_map(|messages| messages.clone()).collect()
}

#[test]
fn every_call_and_every_language_has_its_messages() {
    let mut faults = Vec::new();
    let first = of_language(FIRST, &mut faults);
    let mut asked = Asked::default();
    for (path, text) in super::rust_files("src") {
        ask(&path.display().to_string(), &text, &mut asked);
    }
    assert!(asked.messages.len() > 300, "the calls are found");
    faults.extend(held(&all(&first), &asked, &script()));
    for language in OTHERS {
        let other = of_language(language, &mut faults);
        faults.extend(alike(&first, &other, language));
        for key in other.get(TABLES).into_iter().flat_map(BTreeMap::keys) {
            if !asked.families.iter().any(|family| key.starts_with(&format!("{family}-"))) {
                faults.push(format!("{language}/{TABLES}: {key} is of no table"));
            }
        }
    }
    let listed = super::read(Path::new("src/words/bundle.rs"));
    for file in first.keys() {
        if !listed.contains(&format!("/{file}\"")) {
            faults.push(format!("{file} is not read by src/words/bundle.rs"));
        }
    }
    super::hold("Messages", &faults);
}

#[test]
fn each_fault_of_a_message_is_found() {
    let text = "a = A { $x }\nb = { $n ->\n    [one] one\n   *[other] { $n } of { $m }\n}\nfam-c = C\nscript-d = D\n";
    let mut faults = Vec::new();
    let first = messages_of("x", text, &mut faults);
    assert_eq!(faults, Vec::<String>::new());
    assert_eq!(first["b"], Args::from(["m".to_owned(), "n".to_owned()]));
    let check = |code: &str, script: &str| {
        let mut asked = Asked::default();
        ask("f.rs", code, &mut asked);
        held(&first, &asked, script)
    };
    let good =
        r#"fn f() { say!(l, "a", x = 1); tell!(l, "b", n = g(1, 2), m = 3,); l.word("fam", w); say!(l, "script-d") }"#;
    assert_eq!(check(good, "say('d')"), Vec::<String>::new());
    for (wrong, right) in
        [("\"a\", x = 1", "\"a\""), ("\"a\", x", "\"e\", x"), ("\"fam\"", "\"gone\""), ("m = 3", "k = 3")]
    {
        assert!(!check(&good.replace(wrong, right), "say('d')").is_empty(), "{right}");
    }
    assert_eq!(check(good, "say('d') say('e')").len(), 1);
    assert_eq!(check(good, "").len(), 1);
    let files = |text: &str| BTreeMap::from([("f.ftl".to_owned(), messages_of("f", text, &mut Vec::new()))]);
    assert_eq!(alike(&files(text), &files(text), "de"), Vec::<String>::new());
    for other in ["a = A\n", &text.replace("$x", "$y"), &format!("{text}e = E\n"), &text.replace("fam-c = C\n", "")] {
        assert!(!alike(&files(text), &files(other), "de").is_empty(), "{other}");
    }
    messages_of("x", "a = A\na = B\n= c\n", &mut faults);
    assert_eq!(faults.len(), 2, "{faults:?}");
}

/// The codes and kinds that the report form's script has words for.
fn spoken_codes(script: &str) -> Vec<&str> {
    let table = script.split("const CODES = {").nth(1).and_then(|rest| rest.split("};").next()).unwrap_or_default();
    let names = table.split(',').filter_map(|pair| pair.split_once(':'));
    names.map(|(name, _)| name.trim().trim_matches('\'')).collect()
}

#[test]
fn the_script_speaks_of_what_the_service_sends() {
    // What the script finds out by itself.
    let own = ["changed"];
    let script = super::read(Path::new("src/http/pages/report/refusal.js"));
    let codes = spoken_codes(&script);
    assert!(codes.len() > 10, "the table is found");
    let code: String = super::rust_files("src").into_iter().map(|(_, text)| text).collect();
    let sent = |name: &&&str| own.contains(name) || code.contains(&format!("\"{name}\""));
    let faults: Vec<String> =
        codes.iter().filter(|name| !sent(name)).map(|name| format!("nothing is refused as {name}")).collect();
    super::hold("Codes", &faults);
}
