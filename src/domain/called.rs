//! How an insect is called where people read: by its usual name with the scientific one, and by which of
//! its generations where a year has several.

use std::fmt;

use super::Taxon;

/// A name in its parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Called {
    /// Usual name in the language asked for, where somebody said one.
    pub usual: Option<String>,
    /// Scientific name.
    pub scientific: String,
    /// `first generation`, where a year has several.
    pub generation: Option<String>,
}

impl Called {
    /// How `taxon` is called in `language` (two letters).
    #[must_use]
    pub fn of(taxon: &Taxon, language: &str) -> Self {
        Self {
            usual: taxon.usual_name(language).map(str::to_owned),
            scientific: taxon.scientific_name.clone(),
            generation: None,
        }
    }

    /// The same for one brood of it, in the words of `generation`; with one brood a year there is nothing to tell
    /// apart.
    #[must_use]
    pub fn of_brood(taxon: &Taxon, brood: u8, language: &str, generation: impl FnOnce(u8) -> String) -> Self {
        let several = taxon.broods.len() > 1;
        Self { generation: several.then(|| generation(brood)), ..Self::of(taxon, language) }
    }

    /// The shortest that still tells: the usual name, or the scientific one where there is none.
    #[must_use]
    pub fn short(&self) -> &str {
        self.usual.as_deref().unwrap_or(&self.scientific)
    }
}

impl fmt::Display for Called {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.usual {
            Some(usual) => write!(f, "{usual} ({})", self.scientific)?,
            None => f.write_str(&self.scientific)?,
        }
        match &self.generation {
            Some(generation) => write!(f, ", {generation}"),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Brood, Slug, VernacularName};

    #[test]
    fn names_stand_together_and_generations_only_where_there_are_several() {
        let mut taxon = Taxon::bare(Slug::new("x").expect("a slug"), "Baetis rhodani", "species");
        let brood = |number| Brood { number, median_day_of_year: 100.0, sd_days: 9.0, provenance: String::new() };
        let words = |brood: u8| format!("generation {brood}");
        let told = |taxon: &Taxon, brood| Called::of_brood(taxon, brood, "en", words).to_string();
        assert_eq!(told(&taxon, 1), "Baetis rhodani");
        taxon.broods = vec![brood(1)];
        assert_eq!(told(&taxon, 1), "Baetis rhodani");
        taxon.broods.push(brood(2));
        assert_eq!(told(&taxon, 2), "Baetis rhodani, generation 2");
        let (language, name) = ("en-GB".to_owned(), "Large dark olive".to_owned());
        taxon.names = vec![VernacularName { language, name, provenance: String::new() }];
        assert_eq!(told(&taxon, 1), "Large dark olive (Baetis rhodani), generation 1");
        assert_eq!(told(&taxon, 12), "Large dark olive (Baetis rhodani), generation 12");
        assert_eq!(Called::of(&taxon, "en").to_string(), "Large dark olive (Baetis rhodani)");
        assert_eq!(Called::of(&taxon, "de").to_string(), "Baetis rhodani");
        assert_eq!(
            (Called::of(&taxon, "en").short(), Called::of(&taxon, "de").short()),
            ("Large dark olive", "Baetis rhodani")
        );
    }
}
