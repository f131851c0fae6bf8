//! Rust text as tokens, without comments, strings and test modules.

use proc_macro2::{Delimiter, TokenStream, TokenTree};

/// The tokens of a file with everything under `#[cfg(test)]` left out.
pub(crate) fn tokens_without_tests(text: &str) -> Vec<TokenTree> {
    let stream: TokenStream = text.parse().expect("a Rust file");
    without_tests(stream)
}

fn without_tests(stream: TokenStream) -> Vec<TokenTree> {
    let mut kept = Vec::new();
    let mut tokens = stream.into_iter().peekable();
    while let Some(token) = tokens.next() {
        if is_punct(&token, '#') && tokens.peek().is_some_and(is_cfg_test) {
            // The item that follows ends with its body or with a semicolon.
            for skipped in tokens.by_ref() {
                let body = matches!(&skipped, TokenTree::Group(g) if g.delimiter() == Delimiter::Brace);
                if body || is_punct(&skipped, ';') {
                    break;
                }
            }
        } else {
            kept.push(token);
        }
    }
    kept
}

fn is_cfg_test(token: &TokenTree) -> bool {
    matches!(token, TokenTree::Group(g) if g.delimiter() == Delimiter::Bracket
        && g.stream().to_string().replace(' ', "") == "cfg(test)")
}

/// True for the punctuation mark `mark`.
pub(crate) fn is_punct(token: &TokenTree, mark: char) -> bool {
    matches!(token, TokenTree::Punct(p) if p.as_char() == mark)
}

/// The identifier, if `token` is one.
pub(crate) fn ident(token: Option<&TokenTree>) -> Option<String> {
    match token {
        Some(TokenTree::Ident(i)) => Some(i.to_string()),
        _ => None,
    }
}

/// Calls `look` with every run of sibling tokens, outermost first, macro bodies included.
pub(crate) fn each_run(tokens: &[TokenTree], look: &mut impl FnMut(&[TokenTree])) {
    look(tokens);
    for token in tokens {
        if let TokenTree::Group(group) = token {
            each_run(&without_tests(group.stream()), look);
        }
    }
}

#[test]
fn test_modules_comments_and_strings_are_left_out() {
    let text = r#"
        // crate::store
        fn a() -> &'static str { "crate::store" }
        #[cfg(test)]
        mod tests { use crate::store::Db; }
        #[cfg(test)] use crate::http;
        use crate::domain::Slug;
    "#;
    let seen: TokenStream = tokens_without_tests(text).into_iter().collect();
    let seen = seen.to_string();
    assert!(!seen.contains("store :: Db") && !seen.contains("http"), "{seen}");
    assert!(seen.contains("domain"), "{seen}");
}
