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
    Called::of(taxon, language.of_names())
}

/// How one brood of `taxon` is called.
#[must_use]
pub fn called_brood(language: Language, taxon: &Taxon, brood: u8) -> Called {
    Called::of_brood(taxon, brood, language.of_names(), |brood| generation(language, brood))
}

/// `first generation`.
fn generation(language: Language, brood: u8) -> String {
    match brood {
        1..=ORDINALS => language.word("generation", &brood.to_string()),
        other => say!(language, "generation-later", number = other),
    }
}
