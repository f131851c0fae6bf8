//! What is put into a message.

use maud::Markup;

/// An argument of a message.
#[derive(Debug, Clone)]
pub enum Arg {
    /// A whole number, by which a message may choose its form.
    Number(i64),
    /// Text.
    Text(String),
    /// Markup, in messages that become markup.
    Markup(Markup),
}

impl Arg {
    /// Without markup, which has no place in text.
    pub(super) fn into_text(self) -> Self {
        match self {
            Self::Markup(markup) => Self::Text(markup.into_string()),
            other => other,
        }
    }
}

macro_rules! from_whole_numbers {
    ($($kind:ty),*) => {
        $(impl From<$kind> for Arg {
            fn from(number: $kind) -> Self {
                Self::Number(i64::try_from(number).unwrap_or(i64::MAX))
            }
        })*
    };
}
from_whole_numbers!(u8, u32, i32, u64, i64, usize);

impl From<&str> for Arg {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<String> for Arg {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<&String> for Arg {
    fn from(text: &String) -> Self {
        Self::Text(text.clone())
    }
}

impl From<Markup> for Arg {
    fn from(markup: Markup) -> Self {
        Self::Markup(markup)
    }
}

/// First of the characters that hold the places of markup (private use: no message has them).
const FIRST_PLACE: u32 = 0xE000;
const PLACES: u32 = 0x100;

/// What holds the place of the markup with number `which`.
pub(super) fn place(which: usize) -> String {
    let which = u32::try_from(which).unwrap_or(0) % PLACES;
    char::from_u32(FIRST_PLACE + which).map(String::from).unwrap_or_default()
}

/// The next place in `text`: where, which markup, and how many bytes it takes.
pub(super) fn next_place(text: &str) -> Option<(usize, usize, usize)> {
    let held = |c: char| (FIRST_PLACE..FIRST_PLACE + PLACES).contains(&u32::from(c));
    let (at, c) = text.char_indices().find(|(_, c)| held(*c))?;
    Some((at, (u32::from(c) - FIRST_PLACE) as usize, c.len_utf8()))
}
