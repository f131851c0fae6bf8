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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ingest::seed_taxa::seed_taxa;

    #[test]
    fn no_english_word_is_left_in_what_german_pages_call_a_group_or_an_order() {
        let english = ["group", "and", "small", "summer", "incl", "winter", "midges"];
        let mut told = 0;
        for taxon in seed_taxa().expect("sound tables") {
            let words = |text: &str| -> Vec<String> {
                let words = text.split(|c: char| !c.is_alphabetic()).map(str::to_owned);
                words.filter(|word| english.contains(&word.as_str())).collect()
            };
            let german = called(Language::German, &taxon).scientific;
            assert_eq!(words(&german), Vec::<String>::new(), "{german}");
            told += usize::from(!words(&taxon.scientific_name).is_empty());
            assert_eq!(called(Language::English, &taxon).scientific, taxon.scientific_name);
            let order = taxon.order.expect("an order");
            assert!(Language::German.has_table_row("order", &order), "{order}");
        }
        assert_eq!(told, 7, "groups whose names hold English words");
    }
}
