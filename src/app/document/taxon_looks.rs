//! What a taxon looks like and what people call it, as sent and taken.

use garde::Validate;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Faults;
use super::taxon_input::GIVEN;
use crate::domain::looks::{check_language, check_tails};
use crate::domain::{Colour, VernacularName};

/// What people call a taxon in one language.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct NameDocument {
    /// Language tag (BCP 47).
    #[schema(example = "en")]
    pub language: String,
    /// The name.
    #[schema(example = "Large dark olive")]
    pub name: String,
    /// Where it comes from.
    #[schema(example = "common practice, no source")]
    pub provenance: String,
}

impl From<&VernacularName> for NameDocument {
    fn from(known: &VernacularName) -> Self {
        let VernacularName { language, name, provenance } = known.clone();
        Self { language, name, provenance }
    }
}

/// A name to declare.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, ToSchema, Validate)]
#[serde(deny_unknown_fields, default)]
pub struct NameInput {
    /// Language tag (BCP 47): two or three small letters, perhaps with a region.
    #[garde(required)]
    #[schema(value_type = String, pattern = "^[a-z]{2,3}(-[A-Z]{2})?$", example = "en")]
    pub language: Option<String>,
    /// The name, once per language.
    #[garde(required, length(chars, min = 1, max = 100))]
    #[schema(value_type = String, min_length = 1, max_length = 100, example = "Large dark olive")]
    pub name: Option<String>,
    /// Where it comes from.
    #[garde(length(chars, max = 500))]
    #[schema(max_length = 500)]
    pub provenance: Option<String>,
}

impl From<&VernacularName> for NameInput {
    fn from(known: &VernacularName) -> Self {
        let VernacularName { language, name, provenance } = known.clone();
        Self { language: Some(language), name: Some(name), provenance: Some(provenance) }
    }
}

/// The names, or faults of those that break a rule.
pub(super) fn names(faults: &mut Faults, given: Vec<NameInput>) -> Vec<VernacularName> {
    let mut found: Vec<VernacularName> = Vec::new();
    for (index, one) in given.into_iter().enumerate() {
        let language =
            one.language.and_then(|text| faults.check(&format!("#/names/{index}/language"), check_language(&text)));
        // What is missing was told when the body was read.
        let (Some(language), Some(name)) = (language, one.name) else { continue };
        let pointer = format!("#/names/{index}/name");
        if name.trim().is_empty() || name.chars().any(char::is_control) {
            faults.add(pointer, "invalid_value", "must be words on one line");
        } else if found.iter().any(|known| known.language == language && known.name == name) {
            faults.add(pointer, "repeated", "stands twice for the same language");
        } else {
            let provenance = one.provenance.unwrap_or_else(|| GIVEN.to_owned());
            found.push(VernacularName { language, name, provenance });
        }
    }
    found
}

/// The numbers of tails, each once, or faults.
pub(super) fn tails(faults: &mut Faults, given: Vec<u32>) -> Vec<u8> {
    let mut found = Vec::new();
    for (index, number) in given.into_iter().enumerate() {
        let tails = faults.check(&format!("#/tails/{index}"), check_tails(number));
        found.extend(tails.filter(|tails| !found.contains(tails)));
    }
    found
}

/// The colours of the list at `pointer`, each once, or faults.
pub(super) fn colours(faults: &mut Faults, pointer: &str, given: Vec<String>) -> Vec<Colour> {
    let mut found = Vec::new();
    for (index, word) in given.into_iter().enumerate() {
        let colour = faults.check(&format!("{pointer}/{index}"), Colour::parse(&word));
        found.extend(colour.filter(|colour| !found.contains(colour)));
    }
    found
}
