//! What an occurrence says once its event, its facts and the caller's map are taken together.

use super::convert::Known;
use super::facts::Facts;
use super::moments::{self, DaysSaid};
use super::terms::{self, facts as fact};
use crate::domain::{AbundanceClass, RecordKind, Slug};
use crate::ingest::csv::value_map::ValueMap;
use crate::ingest::faults::{Fault, FaultKind};

/// Terms that an occurrence may take from its event.
pub(super) const OF_EVENT: [&str; 8] = [
    "eventDate",
    "eventTime",
    "samplingProtocol",
    "sampleSizeValue",
    "sampleSizeUnit",
    "locationID",
    "locality",
    "eventRemarks",
];

/// One occurrence with everything it may draw on.
pub(super) struct Said<'a> {
    pub(super) line: u64,
    /// The value of a term, of the row or of its event.
    pub(super) get: &'a dyn Fn(&str) -> String,
    /// Identifiers of the occurrence and of its event.
    pub(super) ids: [&'a str; 2],
    pub(super) facts: &'a Facts,
    pub(super) known: &'a Known,
    pub(super) map: &'a ValueMap,
}

/// The cells of our form that carry an amount.
struct Amount {
    count: String,
    class: String,
}

impl Said<'_> {
    /// The row in the order of our columns.
    ///
    /// # Errors
    /// The [`Fault`] of a row that contradicts itself.
    pub(super) fn cells(&self) -> Result<[String; 18], Fault> {
        let kind = self.kind();
        let DaysSaid { mut from, to, hours } = moments::days(&(self.get)("eventDate"), self.known.time_zone);
        let before = self.fact(fact::DAY_BEFORE);
        if !before.is_empty() {
            before.clone_into(&mut from);
        } else if self.fact(fact::DAYS) == "unknown" || (kind == Some(RecordKind::FirstSighting) && from == to) {
            from.clear();
        }
        let time = (self.get)("eventTime");
        let (start, end) = match moments::hours(&time, &to, self.known.time_zone) {
            Ok(told) => told.or(hours).map_or_else(Default::default, |(start, end)| (clock(start), clock(end))),
            Err(()) => (time.clone(), time),
        };
        let Amount { count, class } = self.amount(kind)?;
        let fact = |kind| self.fact(kind).to_owned();
        Ok([
            self.reach(),
            from,
            to,
            self.taxon(),
            count,
            class,
            kind.map_or_else(|| (self.get)("samplingProtocol"), |kind| kind.as_str().to_owned()),
            self.effort(),
            start,
            end,
            self.stage(),
            fact(fact::BROOD),
            (self.get)("recordNumber"),
            fact(fact::KNOWN_AT),
            fact(fact::CLOUD),
            fact(fact::WIND),
            fact(fact::AIR),
            fact(fact::RAIN),
        ])
    }

    fn fact(&self, kind: &str) -> &str {
        self.facts.get(self.ids, kind)
    }

    /// True where the caller's map has something to say of a value; it is then left as it stands.
    fn is_mapped(&self, names: [&str; 2], value: &str) -> bool {
        self.map.get(names, value).is_some()
    }

    /// The kind, where the protocol is a word of ours or mapped to one.
    fn kind(&self) -> Option<RecordKind> {
        let said = (self.get)("samplingProtocol");
        RecordKind::parse(self.map.get(["kind", "samplingProtocol"], &said).unwrap_or(&said)).ok()
    }

    fn reach(&self) -> String {
        let id = (self.get)("locationID");
        if id.is_empty() {
            let name = (self.get)("locality");
            let found = self.known.reaches.iter().find(|reach| reach.name.eq_ignore_ascii_case(&name));
            let mapped = self.is_mapped(["site", "locality"], &name);
            return found.filter(|_| !mapped).map_or(name, |reach| reach.slug.to_string());
        }
        let own =
            id.split_once(':').filter(|(watershed, _)| watershed.eq_ignore_ascii_case(self.known.watershed.as_str()));
        own.map_or(id.clone(), |(_, reach)| reach.to_owned())
    }

    fn taxon(&self) -> String {
        let (id, name) = ((self.get)("taxonID"), (self.get)("scientificName"));
        if self.is_mapped(["taxon", "scientificName"], &name) {
            return name;
        }
        let by_id = self.known.taxa.iter().find(|taxon| Slug::new(&id).is_ok_and(|slug| slug == taxon.slug));
        let by_name = || self.known.taxa.iter().find(|taxon| taxon.scientific_name.eq_ignore_ascii_case(&name));
        match by_id.or_else(by_name) {
            Some(taxon) => taxon.slug.to_string(),
            None if name.is_empty() => id,
            None => name,
        }
    }

    fn effort(&self) -> String {
        let (value, unit) = ((self.get)("sampleSizeValue"), (self.get)("sampleSizeUnit"));
        if value.is_empty() || [terms::PEOPLE, terms::TRAPS].contains(&unit.as_str()) {
            return value;
        }
        // In another unit it is no number of people or traps; the import says so unless it is mapped.
        format!("{value} {unit}").trim_end().to_owned()
    }

    fn stage(&self) -> String {
        let (own, said) = (self.fact(fact::STAGE), (self.get)("lifeStage"));
        if !own.is_empty() || said.is_empty() || self.is_mapped(["stage", "lifeStage"], &said) {
            return if own.is_empty() { said } else { own.to_owned() };
        }
        let mayfly = || {
            let name = (self.get)("scientificName");
            let known = self.known.taxa.iter().find(|taxon| taxon.scientific_name.eq_ignore_ascii_case(&name));
            let order = known.and_then(|taxon| taxon.order.clone()).unwrap_or_else(|| (self.get)("order"));
            order.eq_ignore_ascii_case("Ephemeroptera")
        };
        match said.to_ascii_lowercase().as_str() {
            "larva" | "larvae" => "nymph".to_owned(),
            "subimago" => "dun".to_owned(),
            "imago" | "adult" => if mayfly() { "spinner" } else { "adult" }.to_owned(),
            _ => said,
        }
    }

    fn amount(&self, kind: Option<RecordKind>) -> Result<Amount, Fault> {
        let status = (self.get)("occurrenceStatus");
        let count = (self.get)("individualCount");
        let class = self.class();
        let fault = |reason: &str| Err(Fault::new(self.line, "occurrenceStatus", &status, FaultKind::BadValue, reason));
        let absent = match status.to_ascii_lowercase().replace(' ', "").as_str() {
            "absent" | "notdetected" => true,
            "present" | "detected" if count == "0" => return fault("says some were there, and individualCount none"),
            "present" | "detected" | "" => false,
            _ => return fault("must be one of present, absent, detected, notDetected"),
        };
        let none = AbundanceClass::None.as_str();
        if absent {
            if !["", "0"].contains(&count.as_str()) || !["", none].contains(&class.as_str()) {
                return fault("says that none were there, and the amount that some were");
            }
            return Ok(match (class.is_empty(), count.is_empty(), self.fact(fact::COUNTED) == "yes") {
                (_, _, true) => Amount { count: "0".to_owned(), class: none.to_owned() },
                (true, false, false) => Amount { count, class: String::new() },
                (_, true, false) | (false, _, false) => Amount { count: String::new(), class: none.to_owned() },
            });
        }
        let seen_on_a_visit = matches!(kind, Some(RecordKind::Visit)) || (self.get)("samplingProtocol").is_empty();
        if count.is_empty() && class.is_empty() && seen_on_a_visit {
            return Ok(Amount { count, class: AbundanceClass::Sparse.as_str().to_owned() });
        }
        Ok(Amount { count, class })
    }

    /// The quantity as a class; one on another scale as it stands, for the import to refuse unless it is mapped.
    fn class(&self) -> String {
        let (value, scale) = ((self.get)("organismQuantity"), (self.get)("organismQuantityType"));
        if value.is_empty() || !scale.starts_with(terms::CLASS_SCALE) {
            return format!("{value} {scale}").trim().to_owned();
        }
        let word = AbundanceClass::WORDS.iter().find(|(class, _)| class.index().to_string() == value);
        word.map_or(value, |(_, word)| (*word).to_owned())
    }
}

fn clock(time: chrono::NaiveTime) -> String {
    time.format("%H:%M").to_string()
}
