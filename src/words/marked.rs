//! English with marks, to find what is no message and what does not fit when words grow.

/// Around a message.
const MESSAGE: [&str; 2] = ["\u{27e6}", "\u{27e7}"];
/// Around what is put into one.
const GIVEN: [&str; 2] = ["\u{2983}", "\u{2984}"];
/// Letters of the words that lengthen a message.
const FILLER_LETTERS: usize = 6;

/// `text` between marks, longer by two fifths of its own letters: what was put into it has grown already.
pub(super) fn message(text: &str) -> String {
    let mut depth = 0_usize;
    let mut own = 0_usize;
    for letter in text.chars().map(|letter| letter.to_string()) {
        match letter.as_str() {
            open if open == GIVEN[0] => depth += 1,
            close if close == GIVEN[1] => depth = depth.saturating_sub(1),
            _ if depth == 0 => own += 1,
            _ => {}
        }
    }
    let more = own * 2 / 5;
    let mut filler = String::new();
    for letter in 0..more {
        filler.push(if letter % (FILLER_LETTERS + 1) == 0 { ' ' } else { '~' });
    }
    format!("{}{text}{filler}{}", MESSAGE[0], MESSAGE[1])
}

/// `text` as an argument.
pub(super) fn given(text: &str) -> String {
    format!("{}{text}{}", GIVEN[0], GIVEN[1])
}
