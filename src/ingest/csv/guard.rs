//! Text cells that a spreadsheet would take for a formula. An export puts an apostrophe before them, an import takes
//! it away again; numbers are never touched, or negative ones would break.

/// What a formula can begin with, and what spreadsheets skip before one.
const STARTS: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\0'];

/// True for text that is a formula, or would be once apostrophes are taken away.
fn is_at_risk(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(STARTS)
}

/// The cell that says `text` and is no formula.
#[must_use]
pub fn guarded(text: &str) -> String {
    if is_at_risk(text) { format!("'{text}") } else { text.to_owned() }
}

/// What a cell says.
#[must_use]
pub fn unguarded(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|rest| is_at_risk(rest)).unwrap_or(cell)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn formulas_are_text_and_other_text_stays_as_it_is() {
        for (text, cell) in [
            ("=1+1", "'=1+1"),
            ("-x", "'-x"),
            ("@a", "'@a"),
            ("+a", "'+a"),
            ("\ta", "'\ta"),
            ("'=1", "''=1"),
            ("'tis", "'tis"),
            ("a=1", "a=1"),
            ("", ""),
        ] {
            assert_eq!(guarded(text), cell);
        }
    }

    proptest! {
        #[test]
        fn a_guard_comes_off_again(text in "'{0,2}[=+@a\t-]?.{0,5}") {
            let cell = guarded(&text);
            prop_assert!(!cell.starts_with(STARTS), "{cell:?}");
            prop_assert_eq!(unguarded(&cell), text);
        }
    }
}
