//! Words said in every language at once, for what is stored before anyone reads it.

use crate::domain::said::Said;
use crate::words::Language;

/// What `tell` says in each language.
pub(super) fn said(tell: impl Fn(Language) -> String) -> Said {
    let others = Language::ALL.into_iter().filter(|language| *language != Language::English);
    Said {
        english: tell(Language::English),
        others: others.map(|language| (language.tag().to_owned(), tell(language))).collect(),
    }
}

/// An address that leads to `language`, where it is not English: feeds and embeds follow no header, so that a subscription
/// stays what it was.
#[must_use]
pub fn in_language(language: Language, address: String) -> String {
    if language == Language::English {
        return address;
    }
    format!("{address}{}lang={}", if address.contains('?') { '&' } else { '?' }, language.tag())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::guidance::{imitation_names, rows_in_words};

    #[test]
    fn every_row_of_the_tables_is_translated() {
        let mut missing = Vec::new();
        let mut need = |family: &str, id: &str| {
            if !Language::German.has_table_row(family, id) {
                missing.push(format!("{family}: {id}"));
            }
        };
        for (id, _, check, _) in rows_in_words() {
            need("rule", id);
            if check.is_some() {
                need("check", id);
            }
        }
        imitation_names().for_each(|name| need("imitation", name));
        for (code, _, source) in crate::app::cautions::STANDING {
            need("caution", code);
            need("source", source);
        }
        assert!(missing.is_empty(), "{missing:?}");
    }

    #[test]
    fn every_word_of_a_closed_list_has_a_message() {
        use crate::domain::forecast::WaterBasis;
        use crate::domain::taxon::EmergenceMode;
        use crate::domain::{AbundanceClass, Colour, Stage, WaterType, WingsHeld};
        let words = [
            ("stage", Stage::WORDS.iter().map(|(_, word)| *word).collect::<Vec<_>>()),
            ("class", AbundanceClass::WORDS.iter().map(|(_, word)| *word).collect()),
            ("water-type", WaterType::WORDS.iter().map(|(_, word)| *word).collect()),
            ("water-basis", WaterBasis::WORDS.iter().map(|(_, word)| *word).collect()),
            ("colour", Colour::WORDS.iter().map(|(_, word)| *word).collect()),
            ("held", WingsHeld::WORDS.iter().map(|(_, word)| *word).collect()),
            ("rest", WingsHeld::WORDS.iter().map(|(_, word)| *word).collect()),
            ("sign", crate::domain::Sign::WORDS.iter().map(|(_, word)| *word).collect()),
            ("condition", crate::domain::Condition::WORDS.iter().map(|(_, word)| *word).collect()),
            ("mode", EmergenceMode::WORDS.iter().map(|(_, word)| *word).collect()),
        ];
        for (family, words) in words {
            for word in words {
                for language in Language::ALL {
                    assert!(language.has_word(family, word), "{language:?}: {family}-{word}");
                }
            }
        }
        for month in 1..=12_u32 {
            assert!(
                ["month", "month-short"].iter().all(|family| Language::German.has_word(family, &month.to_string()))
            );
        }
    }
}
