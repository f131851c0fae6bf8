//! How an insect is called in a language.

use crate::domain::Taxon;
use crate::domain::called::Called;
use crate::say;
use crate::words::Language;

/// Generations of a year that have a word of their own.
const ORDINALS: u8 = 9;

/// How `taxon` is called.
#[must_use]
pub fn called(language: Language, taxon: &Taxon) -> Called {
    in_words(language, Called::of(taxon, language.of_names()))
}

/// A scientific name; of some groups it holds English words, which another language has in words of its own.
#[must_use]
pub fn scientific(language: Language, name: &str) -> String {
    if language.has_word("named", name) { language.word("named", name) } else { name.to_owned() }
}

fn in_words(language: Language, called: Called) -> Called {
    Called { scientific: scientific(language, &called.scientific), ..called }
}

/// How one brood of `taxon` is called.
#[must_use]
pub fn called_brood(language: Language, taxon: &Taxon, brood: u8) -> Called {
    in_words(language, Called::of_brood(taxon, brood, language.of_names(), |brood| generation(language, brood)))
}

/// `first generation`.
fn generation(language: Language, brood: u8) -> String {
    match brood {
        1..=ORDINALS => language.word("generation", &brood.to_string()),
        other => say!(language, "generation-later", number = other),
    }
}
