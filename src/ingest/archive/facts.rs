//! Measurements and facts of events and occurrences, as far as they mean something here.

use std::collections::{BTreeSet, HashMap};

use super::rows::Row;
use super::terms::facts as known;

/// The types that are read.
const TYPES: [&str; 10] = [
    known::STAGE,
    known::BROOD,
    known::KNOWN_AT,
    known::COUNTED,
    known::DAY_BEFORE,
    known::DAYS,
    known::CLOUD,
    known::WIND,
    known::AIR,
    known::RAIN,
];

/// What is known of each event or occurrence beyond its terms.
#[derive(Debug, Default)]
pub(super) struct Facts {
    by_id: HashMap<String, Vec<(usize, String)>>,
    /// Types, with units that are not ours, that are left aside.
    pub(super) ignored: BTreeSet<String>,
}

impl Facts {
    /// Takes a row in.
    pub(super) fn add(&mut self, row: &Row<'_>) {
        let (kind, unit, value) = (row.get("measurementType"), row.get("measurementUnit"), row.get("measurementValue"));
        let fits = known::UNITS.iter().find(|(name, _)| *name == kind).is_none_or(|(_, ours)| *ours == unit);
        match TYPES.iter().position(|known| *known == kind).filter(|_| fits) {
            Some(at) if !value.is_empty() => {
                let id = Some(row.get("occurrenceID")).filter(|id| !id.is_empty()).unwrap_or_else(|| row.id());
                self.by_id.entry(id.to_owned()).or_default().push((at, value.to_owned()));
            }
            None if self.ignored.len() < 100 => {
                let unit = if unit.is_empty() { String::new() } else { format!(" in {unit}") };
                self.ignored.insert(format!("{kind}{unit}"));
            }
            Some(_) | None => {}
        }
    }

    /// The fact of that type, of the first of `ids` that has it.
    pub(super) fn get(&self, ids: [&str; 2], kind: &str) -> &str {
        let at = TYPES.iter().position(|known| *known == kind);
        let of = |id: &str| self.by_id.get(id)?.iter().find(|(known, _)| Some(*known) == at);
        ids.into_iter().find_map(of).map_or("", |(_, value)| value)
    }
}
