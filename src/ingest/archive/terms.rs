//! The words of Darwin Core that we write and read: terms by their names, and our own words where it has none.

/// Where the terms of Darwin Core live.
const DARWIN_CORE: &str = "http://rs.tdwg.org/dwc/terms/";
/// Where the terms live that Darwin Core borrows.
const DUBLIN_CORE: &str = "http://purl.org/dc/terms/";
/// Terms of ours that are borrowed.
const BORROWED: [&str; 4] = ["license", "rightsHolder", "modified", "bibliographicCitation"];

/// Rows of this type are events.
pub const EVENT: &str = "http://rs.tdwg.org/dwc/terms/Event";
/// Rows of this type are occurrences.
pub const OCCURRENCE: &str = "http://rs.tdwg.org/dwc/terms/Occurrence";
/// Rows of this type are measurements or facts.
pub const MEASUREMENT: &str = "http://rs.tdwg.org/dwc/terms/MeasurementOrFact";

/// How `organismQuantityType` begins where the quantity is the number of an abundance class.
pub const CLASS_SCALE: &str = "abundance class 0-3";
/// `organismQuantityType` as we write it.
pub const CLASS_SCALE_TEXT: &str = "abundance class 0-3 (none, sparse, moderate, heavy)";
/// `sampleSizeUnit` of visits.
pub const PEOPLE: &str = "observer";
/// `sampleSizeUnit` of traps.
pub const TRAPS: &str = "trap or hour of light";

/// Facts of an occurrence or event that no term can say, as `measurementType`.
pub mod facts {
    /// The trade's word for the life stage; Darwin Core's are fewer.
    pub const STAGE: &str = "life stage in the trade's word";
    /// Brood of the year, from 1.
    pub const BROOD: &str = "brood of the year";
    /// When the record was learned, where that is not the day itself.
    pub const KNOWN_AT: &str = "record known at";
    /// `yes` where a count of none stands beside a class of none.
    pub const COUNTED: &str = "none were counted";
    /// The day a trap was set or emptied before; the last day looked without seeing.
    pub const DAY_BEFORE: &str = "day before the interval";
    /// `unknown` where nobody noted how long a trap stood.
    pub const DAYS: &str = "days covered";
    /// Share of the sky, 0 to 1.
    pub const CLOUD: &str = "cloud cover";
    /// In km/h.
    pub const WIND: &str = "wind speed";
    /// In degrees Celsius.
    pub const AIR: &str = "air temperature";
    /// In mm within an hour.
    pub const RAIN: &str = "rain within an hour";
    /// Units of the last four; a value in another unit is not taken.
    pub const UNITS: [(&str, &str); 4] = [(CLOUD, "1"), (WIND, "km/h"), (AIR, "\u{b0}C"), (RAIN, "mm")];
}

/// The address of a term.
#[must_use]
pub fn uri(term: &str) -> String {
    let space = if BORROWED.contains(&term) { DUBLIN_CORE } else { DARWIN_CORE };
    format!("{space}{term}")
}

/// The name of the term at that address, if it is of Darwin Core or borrowed by it.
#[must_use]
pub fn name(uri: &str) -> Option<&str> {
    let uri = uri.trim();
    uri.strip_prefix(DARWIN_CORE).or_else(|| uri.strip_prefix(DUBLIN_CORE)).filter(|name| !name.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn terms_have_addresses_and_are_known_by_them() {
        assert_eq!(uri("eventID"), "http://rs.tdwg.org/dwc/terms/eventID");
        assert_eq!(uri("license"), "http://purl.org/dc/terms/license");
        for term in ["eventID", "license", "modified"] {
            assert_eq!(name(&uri(term)), Some(term));
        }
        assert_eq!(name("http://example.org/eventID"), None);
        assert!(CLASS_SCALE_TEXT.starts_with(CLASS_SCALE));
    }
}
