//! What happened this time: the `detail` of a problem. Documents tell it in English; pages in the reader's language, from
//! the table of messages, by the name of the row.

use crate::app::Trouble;
use crate::words::Language;

macro_rules! usual {
    ($($(#[$doc:meta])* $name:ident = $slug:literal, $english:literal;)*) => {
        /// What happens to readers of pages.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum Usual { $($(#[$doc])* $name,)* }

        impl Usual {
            /// All of them.
            #[cfg(test)]
            const ALL: &[Self] = &[$(Self::$name,)*];

            /// Name of the row.
            fn slug(self) -> &'static str { match self { $(Self::$name => $slug,)* } }

            fn in_english(self) -> &'static str { match self { $(Self::$name => $english,)* } }
        }
    };
}

usual! {
    /// No route.
    NothingServed = "nothing-served", "Nothing is served at this address.";
    /// A route, but not with this method.
    OtherMethod = "other-method", "Allow names the methods offered.";
    /// More bytes than are read.
    BodyTooLarge = "body-too-large", "The body is larger than is read here.";
    /// Bytes of another kind.
    OtherMedia = "other-media", "Accept names what is read.";
    /// The time for an answer is over.
    TooSlow = "too-slow", "The answer took too long.";
    /// Nothing better is known.
    NotUnderstood = "not-understood", "The request cannot be understood.";
    /// A fault of ours.
    Broken = "broken", "Something broke inside; the request id finds it in the log.";
    /// A path that is no text.
    AddressUnreadable = "address-unreadable", "The address cannot be read.";
    /// A query that is no form.
    QueryUnreadable = "query-unreadable", "The query is not form-encoded text in UTF-8.";
    /// See [`Trouble::DatabaseBusy`].
    DatabaseBusy = "database-busy", "The database is busy.";
    /// See [`Trouble::DiskFull`].
    DiskFull = "disk-full", "The disk is full.";
    /// See [`Trouble::DatabaseSilent`].
    DatabaseSilent = "database-silent", "The database does not answer.";
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Occurrence {
    /// One of those that readers meet.
    Usual(Usual),
    /// There is nothing of that sort and name.
    NoSuch(&'static str),
    /// So many faults, which stand beside it.
    Faults(usize),
    /// What programs and keepers alone are told.
    InEnglish(String),
}

impl Occurrence {
    /// As documents tell it.
    pub(crate) fn in_english(&self) -> String {
        match self {
            Self::Usual(usual) => usual.in_english().to_owned(),
            Self::NoSuch(what) => format!("There is no such {what}."),
            Self::Faults(1) => "1 fault, see errors.".to_owned(),
            Self::Faults(count) => format!("{count} faults, see errors."),
            Self::InEnglish(text) => text.clone(),
        }
    }

    /// In `language`, where it has words for it.
    pub(crate) fn told(&self, language: Language) -> Option<String> {
        let english = self.in_english();
        match self {
            Self::Usual(usual) => Some(language.of_table("happened", usual.slug(), &english)),
            Self::NoSuch(what) if language.has_table_row("no-such", what) => {
                Some(language.of_table("no-such", what, &english))
            }
            _ => None,
        }
    }
}

impl From<Usual> for Occurrence {
    fn from(usual: Usual) -> Self {
        Self::Usual(usual)
    }
}

impl From<Trouble> for Occurrence {
    fn from(trouble: Trouble) -> Self {
        Self::Usual(match trouble {
            Trouble::DatabaseBusy => Usual::DatabaseBusy,
            Trouble::DiskFull => Usual::DiskFull,
            Trouble::DatabaseSilent => Usual::DatabaseSilent,
        })
    }
}

impl From<&str> for Occurrence {
    fn from(text: &str) -> Self {
        Self::InEnglish(text.to_owned())
    }
}

impl From<String> for Occurrence {
    fn from(text: String) -> Self {
        Self::InEnglish(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_usual_occurrence_has_a_row_in_every_language() {
        for usual in Usual::ALL {
            for language in Language::ALL {
                assert!(language.has_table_row("happened", usual.slug()), "{usual:?} in {language:?}");
            }
        }
        for what in ["watershed", "reach", "taxon", "kind of problem"] {
            assert!(Language::German.has_table_row("no-such", what), "{what}");
        }
    }

    #[test]
    fn what_has_no_row_is_told_in_english_alone() {
        let import = Occurrence::NoSuch("import");
        assert_eq!((import.told(Language::German), import.in_english()), (None, "There is no such import.".to_owned()));
        assert_eq!(Occurrence::from("Some text.").told(Language::German), None);
    }
}
