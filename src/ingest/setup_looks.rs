//! Looks and names in `[[taxon]]` tables.

use toml::Spanned;
use toml::de::DeValue;

use super::faults::FaultKind;
use super::setup::{NAME_MAX, TEXT_MAX};
use super::setup_table::Keys;
use super::setup_taxon::FROM_SETUP;
use crate::domain::looks::{check_language, check_tails};
use crate::domain::{Colour, Invalid, Taxon, VernacularName};

/// Most names of one taxon.
const MAX_NAMES: usize = 12;

/// `tails = [2]`, `body_colours = ["olive"]`, `wing_colours = ["grey"]`.
pub(super) fn looks(keys: &mut Keys<'_>, taxon: &mut Taxon) {
    let number = |value: &DeValue<'_>| {
        let whole = value.as_integer().and_then(|whole| u32::from_str_radix(whole.as_str(), whole.radix()).ok());
        whole.ok_or_else(|| Invalid::new("tails", "", "must be whole numbers")).and_then(check_tails)
    };
    let colour = |value: &DeValue<'_>| {
        Colour::parse(value.as_str().ok_or_else(|| Invalid::new("colour", "", "must be words in quotes"))?)
    };
    let mut given = false;
    for (key, list) in [("body_colours", &mut taxon.looks.body), ("wing_colours", &mut taxon.looks.wings)] {
        if let Some(found) = each(keys, key, colour) {
            (*list, given) = (found, true);
        }
    }
    if let Some(tails) = each(keys, "tails", number) {
        (taxon.looks.tails, given) = (tails, true);
    }
    if given {
        FROM_SETUP.clone_into(&mut taxon.provenance.looks);
    }
}

/// The items of a list, each once; `None` where it is missing or has a fault, which is noted.
fn each<T: PartialEq>(
    keys: &mut Keys<'_>,
    key: &'static str,
    read: impl Fn(&DeValue<'_>) -> Result<T, Invalid>,
) -> Option<Vec<T>> {
    keys.value(key)?;
    let mut found = Vec::new();
    for value in keys.array(key)? {
        match read(value.get_ref()) {
            Ok(item) if found.contains(&item) => {}
            Ok(item) => found.push(item),
            Err(invalid) => {
                keys.fault(key, &invalid.value, FaultKind::BadValue, invalid.reason);
                return None;
            }
        }
    }
    Some(found)
}

/// `[[taxon.names]]` with `language`, `name` and perhaps `provenance`.
pub(super) fn names(keys: &mut Keys<'_>) -> Vec<VernacularName> {
    let mut found: Vec<VernacularName> = Vec::new();
    let Some(array) = keys.array("names") else { return found };
    let array: &[Spanned<DeValue<'_>>] = array;
    if array.len() > MAX_NAMES {
        keys.fault("names", &array.len().to_string(), FaultKind::BadValue, format!("at most {MAX_NAMES} are taken"));
    }
    for value in array.iter().take(MAX_NAMES) {
        let Some(table) = value.get_ref().as_table() else {
            keys.fault("names", "", FaultKind::BadValue, "must be tables [[taxon.names]]");
            continue;
        };
        let mut one = Keys::new(table, keys.lines(), keys.line_at(value), "taxon.names");
        one.need("language");
        let language = one.word("language", check_language);
        let name = one.need_text("name", NAME_MAX);
        let provenance = one.text("provenance", TEXT_MAX).unwrap_or_else(|| FROM_SETUP.to_owned());
        one.faults.kept().iter().cloned().for_each(|fault| keys.faults.push(fault));
        if let (Some(language), Some(name)) = (language, name) {
            if found.iter().any(|known| known.language == language && known.name == name) {
                keys.fault("names", &name, FaultKind::BadValue, "stands twice for the same language");
            } else {
                found.push(VernacularName { language, name, provenance });
            }
        }
    }
    found
}
