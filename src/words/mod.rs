//! What people read, in every language of the service: messages in the files of `en/` and `de/`, one file per
//! feature, with dates and numbers as each language writes them.
//!
//! [`say!`](crate::say) gives text and [`tell!`](crate::tell) markup; both name a message and its arguments, and
//! `tests/house` holds the calls to the files. What stands in a table of the model in English (`of_table`) is
//! translated by the name of its row. [`Language::Marked`] shows English with a mark around every message, longer by
//! two fifths: what stands outside the marks is no message.

mod accept;
mod arg;
mod bundle;
mod dates;
mod marked;

pub use accept::preferred;
pub use arg::Arg;

use fluent_bundle::{FluentArgs, FluentValue};
use maud::{Markup, PreEscaped, Render};

use bundle::message;

/// A language of pages, feeds and cards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum Language {
    /// English, as in Britain.
    #[default]
    English,
    /// German.
    German,
    /// English with its messages marked, for those who look for what is no message.
    Marked,
}

impl Language {
    /// The languages that readers are offered.
    pub const ALL: [Self; 2] = [Self::German, Self::English];

    /// Reads the tag of a language.
    #[must_use]
    pub fn parse(tag: &str) -> Option<Self> {
        [Self::English, Self::German, Self::Marked].into_iter().find(|language| language.tag() == tag)
    }

    /// Its tag in addresses, and the language of names that it is looked up by.
    #[must_use]
    pub fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
            Self::Marked => "x-marked",
        }
    }

    /// Its tag in documents (BCP 47).
    #[must_use]
    pub fn document_tag(self) -> &'static str {
        match self {
            Self::English => "en-GB",
            Self::German => "de",
            Self::Marked => "en-x-marked",
        }
    }

    /// The language in which insects have their everyday names.
    #[must_use]
    pub fn of_names(self) -> &'static str {
        if self == Self::German { "de" } else { "en" }
    }

    /// What it calls itself.
    #[must_use]
    pub fn own_name(self) -> &'static str {
        match self {
            Self::English => "English",
            Self::German => "Deutsch",
            Self::Marked => "Marked",
        }
    }

    /// The message `key` as text. Called by [`say!`](crate::say).
    #[must_use]
    pub fn text(self, key: &str, args: Vec<(&'static str, Arg)>) -> String {
        let mut given = FluentArgs::with_capacity(args.len());
        for (name, arg) in args {
            given.set(name, self.value(arg.into_text()));
        }
        self.finished(message(self, key, &given))
    }

    /// The message `key` as markup: arguments may be markup, all else is escaped. Called by [`tell!`](crate::tell).
    #[must_use]
    pub fn markup(self, key: &str, args: Vec<(&'static str, Arg)>) -> Markup {
        let mut given = FluentArgs::with_capacity(args.len());
        let mut inner: Vec<Markup> = Vec::new();
        for (name, arg) in args {
            match arg {
                Arg::Markup(markup) => {
                    given.set(name, arg::place(inner.len()));
                    inner.push(markup);
                }
                other => given.set(name, self.value(other)),
            }
        }
        let text = self.finished(message(self, key, &given));
        let mut told = String::with_capacity(text.len() + 64);
        let mut rest = text.as_str();
        while let Some((at, which, length)) = arg::next_place(rest) {
            told.push_str(&rest[..at].render().into_string());
            let markup = inner.get(which).map_or("", |markup| markup.0.as_str());
            if self == Self::Marked {
                told.push_str(&marked::given(markup));
            } else {
                told.push_str(markup);
            }
            rest = &rest[at + length..];
        }
        told.push_str(&rest.render().into_string());
        PreEscaped(told)
    }

    /// The word `word` of a closed list, such as a stage of life: the message `family-word`.
    #[must_use]
    pub fn word(self, family: &str, word: &str) -> String {
        let key = bundle::key(family, word);
        if bundle::knows(self, &key) { self.finished(message(self, &key, &FluentArgs::new())) } else { word.to_owned() }
    }

    /// What a table of the program says in `english`, by the name of its row.
    #[must_use]
    pub fn of_table(self, family: &str, id: &str, english: &str) -> String {
        match self {
            Self::English | Self::Marked => self.finished(english.to_owned()),
            Self::German => self.word_or(family, id, english),
        }
    }

    fn word_or(self, family: &str, id: &str, otherwise: &str) -> String {
        let key = bundle::key(family, id);
        if bundle::knows(self, &key) { message(self, &key, &FluentArgs::new()) } else { otherwise.to_owned() }
    }

    /// True where this language has a message for `word` of `family`.
    #[must_use]
    pub fn has_word(self, family: &str, word: &str) -> bool {
        bundle::knows(self, &bundle::key(family, word))
    }

    /// True where this language has a message of its own for the row `id` of a table, or needs none.
    #[must_use]
    pub fn has_table_row(self, family: &str, id: &str) -> bool {
        self != Self::German || self.has_word(family, id)
    }

    /// `text` of ours that holds decimal points, as the language writes numbers.
    #[must_use]
    pub fn decimals(self, text: &str) -> String {
        if self == Self::German { text.replace('.', ",") } else { text.to_owned() }
    }

    /// A number with `decimals` decimals.
    #[must_use]
    pub fn number(self, value: f64, decimals: usize) -> String {
        self.decimals(&format!("{value:.decimals$}"))
    }

    /// A number as short as it is.
    #[must_use]
    pub fn plain_number(self, value: f64) -> String {
        self.decimals(&value.to_string())
    }

    fn value(self, arg: Arg) -> FluentValue<'static> {
        match arg {
            Arg::Number(number) => number.into(),
            Arg::Text(text) if self == Self::Marked => marked::given(&text).into(),
            Arg::Text(text) => text.into(),
            Arg::Markup(markup) => markup.into_string().into(),
        }
    }

    fn finished(self, text: String) -> String {
        match self {
            Self::Marked => marked::message(&text),
            Self::German => with_single_stops(text),
            Self::English => text,
        }
    }
}

/// `text` without a second full stop behind one: a sentence that ends in a shortened month needs no other.
fn with_single_stops(text: String) -> String {
    if !text.contains("..") {
        return text;
    }
    let mut told = String::with_capacity(text.len());
    let mut rest = text.as_str();
    while let Some(at) = rest.find("..") {
        let stops = rest[at..].len() - rest[at..].trim_start_matches('.').len();
        told.push_str(&rest[..at]);
        // Three are an ellipsis.
        told.push_str(if stops == 2 { "." } else { &rest[at..at + stops] });
        rest = &rest[at + stops..];
    }
    told + rest
}

/// The message of that name in `language` as text.
#[macro_export]
macro_rules! say {
    ($language:expr, $key:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $language.text($key, vec![$((stringify!($name), $crate::words::Arg::from($value))),*])
    };
}

/// The message of that name in `language` as markup; arguments may be markup.
#[macro_export]
macro_rules! tell {
    ($language:expr, $key:literal $(, $name:ident = $value:expr)* $(,)?) => {
        $language.markup($key, vec![$((stringify!($name), $crate::words::Arg::from($value))),*])
    };
}

#[cfg(test)]
mod tests;
