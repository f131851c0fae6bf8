//! The TOML file that declares a watershed, its reaches, gauges and taxa.

use std::collections::BTreeMap;
use std::io::Read;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::faults::{Fault, FaultKind, Faults};
use super::setup_table::{Keys, Lines};
use super::setup_taxon::read_taxon;
use crate::domain::rights::{CITATION_MAX, LICENCE_MAX};
use crate::domain::source::Source;
use crate::domain::{Gauge, Invalid, Reach, Rights, Slug, Taxon, Units, WaterType, Watershed};

/// Largest file, bytes: 4 MiB.
pub const MAX_BYTES: usize = 4 * 1024 * 1024;
/// Longest name, characters.
pub(super) const NAME_MAX: usize = 200;
/// Longest description, characters.
pub(super) const TEXT_MAX: usize = 2000;

/// Why a reach is left out with its gauge.
const LEFT_OUT: &str = "is the gauge of this reach and is left out, so the reach is left out too";

/// What a setup file declares.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// The watershed.
    pub watershed: Watershed,
    /// Whether the file says in which units its pages tell temperatures; else they stay as they were.
    pub says_units: bool,
    /// Its reaches.
    pub reaches: Vec<Reach>,
    /// Its gauges.
    pub gauges: Vec<Gauge>,
    /// The taxa that live there, each whole: what the file does not say is as it was known.
    pub taxa: Vec<Taxon>,
    /// Keys that mean nothing here and were ignored, for example `reach.colour`.
    pub unknown_keys: Vec<String>,
    /// Reaches, gauges and taxa of the file that are not above, because something is wrong with them.
    pub left_out: u64,
    /// What is wrong with them.
    pub faults: Faults,
}

/// Reads the slug of the watershed that a file is about, without checking the rest.
#[must_use]
pub fn watershed_slug(text: &str) -> Option<Slug> {
    let table = DeTable::parse(text).ok()?;
    let slug = table.get_ref().get("watershed")?.get_ref().as_table()?.get("slug")?.get_ref().as_str()?.to_owned();
    Slug::new(&slug).ok()
}

/// Takes the text out of a file.
///
/// # Errors
/// A [`Fault`] when it cannot be read, is too large, empty, or not UTF-8.
pub fn read_text(reader: impl Read) -> Result<String, Fault> {
    let whole = |kind, reason: String| Fault::new(1, "file", "", kind, reason);
    let mut bytes = Vec::new();
    let limit = MAX_BYTES as u64 + 1;
    reader
        .take(limit)
        .read_to_end(&mut bytes)
        .map_err(|error| whole(FaultKind::Unreadable, format!("the file cannot be read: {error}")))?;
    if bytes.len() > MAX_BYTES {
        return Err(whole(FaultKind::TooLarge, format!("a setup file takes up to {} MiB", MAX_BYTES / 1024 / 1024)));
    }
    let text = String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let line = error.as_bytes()[..good].split(|byte| *byte == b'\n').count() as u64;
        let byte = format!("byte 0x{:02X}", error.as_bytes()[good]);
        let reason = "the text is not UTF-8 from here on; save the file as UTF-8";
        Fault::new(line, "file", &byte, FaultKind::NotUtf8, reason)
    })?;
    let text = text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text);
    if text.trim().is_empty() {
        return Err(whole(FaultKind::Empty, "the file is empty; it needs a [watershed]".to_owned()));
    }
    Ok(text)
}

/// Reads a setup file. `gauges` are those the watershed has already, `taxa` those that are known;
/// of a known taxon the file may give some traits and leave the others as they are.
///
/// With `best_effort` faulty reaches, gauges and taxa are left out, and reaches that name a gauge
/// which is left out and was not known before.
///
/// # Errors
/// All [`Faults`] of the file; with `best_effort` only when it is no TOML or the watershed is faulty.
pub fn parse(text: &str, gauges: &[Slug], taxa: &BTreeMap<Slug, Taxon>, best_effort: bool) -> Result<Setup, Faults> {
    let lines = Lines::of(text);
    let (root, broken) = DeTable::parse_recoverable(text);
    let mut faults = Faults::default();
    for error in broken {
        let line = error.span().map_or(1, |span| lines.line(span.start));
        faults.push(Fault::new(line, "file", "", FaultKind::Syntax, format!("is not TOML: {}", error.message())));
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut keys = Keys::new(root.get_ref(), &lines, 1, "file");
    let mut reader = Reader { faults: &mut faults, unknown_keys: Vec::new(), left_out: 0 };
    let watershed = match keys.value("watershed").map(|value| (value, value.get_ref().as_table())) {
        Some((value, Some(table))) => {
            reader.table(Keys::new(table, &lines, keys.line_at(value), "watershed"), watershed)
        }
        Some((_, None)) => {
            keys.fault("watershed", "", FaultKind::BadValue, "must be a table [watershed]");
            None
        }
        None => {
            keys.fault("watershed", "", FaultKind::MissingValue, "is missing");
            None
        }
    };
    let declared = reader.tables(&mut keys, "gauge", gauge, |gauge: &Gauge| &gauge.slug);
    let mut known_gauges = KnownGauges { gauges: gauges.to_vec(), left_out: Vec::new() };
    known_gauges.gauges.extend(declared.good.iter().map(|gauge| gauge.slug.clone()));
    if best_effort {
        known_gauges.left_out = declared.left_out;
    } else {
        // The file is refused for the faulty gauge, not for what names it.
        known_gauges.gauges.extend(declared.left_out);
    }
    let reaches = reader.tables(&mut keys, "reach", |keys| reach(keys, &known_gauges), |reach: &Reach| &reach.slug);
    let taxa = reader.tables(&mut keys, "taxon", |keys| read_taxon(keys, taxa), |taxon: &Taxon| &taxon.slug);
    let mut unknown_keys = keys.unknown();
    unknown_keys.append(&mut reader.unknown_keys);
    unknown_keys.sort();
    unknown_keys.dedup();
    let left_out = reader.left_out;
    keys.faults.kept().iter().cloned().for_each(|fault| faults.push(fault));
    let (reaches, gauges, taxa) = (reaches.good, declared.good, taxa.good);
    match watershed {
        Some((watershed, says_units)) if faults.is_empty() || best_effort => {
            Ok(Setup { watershed, says_units, reaches, gauges, taxa, unknown_keys, left_out, faults })
        }
        _ => Err(faults),
    }
}

/// The tables of one name.
struct Tables<T> {
    /// Those without a fault.
    good: Vec<T>,
    /// Slugs of the others, as far as they can be read.
    left_out: Vec<Slug>,
}

/// Gauges that a reach may name.
struct KnownGauges {
    gauges: Vec<Slug>,
    /// Gauges of the file that are left out; one of them may be known from before.
    left_out: Vec<Slug>,
}

impl KnownGauges {
    fn find(&self, gauge: &Slug) -> Option<&Slug> {
        self.gauges.iter().find(|known| *known == gauge)
    }

    /// True for a gauge that would be there if its table were not faulty.
    fn is_left_out(&self, gauge: &Slug) -> bool {
        self.find(gauge).is_none() && self.left_out.contains(gauge)
    }
}

struct Reader<'f> {
    faults: &'f mut Faults,
    unknown_keys: Vec<String>,
    left_out: u64,
}

impl Reader<'_> {
    fn table<'a, T>(&mut self, mut keys: Keys<'a>, read: impl FnOnce(&mut Keys<'a>) -> Option<T>) -> Option<T> {
        let found = read(&mut keys);
        self.unknown_keys.extend(keys.unknown());
        keys.faults.kept().iter().cloned().for_each(|fault| self.faults.push(fault));
        found.filter(|_| keys.faults.is_empty())
    }

    /// The tables `[[name]]`. Of two with one slug neither is good: the file does not tell which is
    /// right.
    fn tables<'a, T>(
        &mut self,
        root: &mut Keys<'a>,
        name: &'static str,
        read: impl Fn(&mut Keys<'a>) -> Option<T>,
        slug: impl Fn(&T) -> &Slug,
    ) -> Tables<T> {
        let mut found = Tables { good: Vec::new(), left_out: Vec::new() };
        let faults_before = root.faults.total();
        let array = root.array(name).map_or(&[][..], |array| array);
        let (mut declared, mut twice): (Vec<Slug>, Vec<Slug>) = (Vec::new(), Vec::new());
        for value in array {
            let line = root.line_at(value);
            let Some(table) = value.get_ref().as_table() else {
                root.fault(name, "", FaultKind::BadValue, format!("must be tables [[{name}]]"));
                continue;
            };
            let own = table.get("slug").and_then(|slug| Slug::new(slug.get_ref().as_str()?.trim()).ok());
            let item = self.table(Keys::new(table, root.lines(), line, name), &read);
            if let Some(own) = own.as_ref().filter(|own| declared.contains(own)) {
                let column = format!("{name}.slug");
                let reason = "is declared twice in this file";
                self.faults.push(Fault::new(line, &column, own.as_str(), FaultKind::Conflict, reason));
                twice.push(own.clone());
            }
            if let Some(item) = item {
                found.good.push(item);
            } else {
                self.left_out += 1;
                found.left_out.extend(own.clone());
            }
            declared.extend(own);
        }
        let good = found.good.len();
        found.good.retain(|item| !twice.contains(slug(item)));
        self.left_out += (good - found.good.len()) as u64 + root.faults.total() - faults_before;
        found.left_out.append(&mut twice);
        found
    }
}

/// The watershed, and whether its units were said.
fn watershed(keys: &mut Keys<'_>) -> Option<(Watershed, bool)> {
    let slug = keys.slug();
    let name = keys.need_text("name", NAME_MAX);
    keys.need("time_zone");
    let time_zone = keys.word("time_zone", |text| {
        text.parse()
            .map_err(|_| Invalid::new("time_zone", text, "must be an IANA time zone, for example America/New_York"))
    });
    let units = keys.word("units", Units::parse);
    let watershed = Watershed { slug: slug?, name: name?, time_zone: time_zone?, units: units.unwrap_or_default() };
    Some((watershed, units.is_some()))
}

fn latitude(keys: &mut Keys<'_>) -> Option<f64> {
    keys.number("latitude", -90.0, 90.0, "degrees north between -90 and 90")
}

fn longitude(keys: &mut Keys<'_>) -> Option<f64> {
    keys.number("longitude", -180.0, 180.0, "degrees east between -180 and 180")
}

fn gauge(keys: &mut Keys<'_>) -> Option<Gauge> {
    let slug = keys.slug();
    let name = keys.text("name", NAME_MAX);
    let position = [latitude(keys), longitude(keys)];
    let position = keys.both(["latitude", "longitude"], position);
    let source = keys.text("source", TEXT_MAX);
    if let Some(Err(fault)) = source.as_deref().map(Source::parse) {
        keys.fault("source", &fault.value, FaultKind::BadValue, fault.reason);
    }
    let rights = Rights::new(keys.text("licence", LICENCE_MAX), keys.text("citation", CITATION_MAX));
    if let Err(fault) = &rights {
        keys.fault(fault.field, &fault.value, FaultKind::BadValue, fault.reason.clone());
    }
    let slug = slug?;
    Some(Gauge {
        name: name.unwrap_or_else(|| slug.as_str().to_owned()),
        slug,
        latitude: position.map(|(latitude, _)| latitude),
        longitude: position.map(|(_, longitude)| longitude),
        source,
        rights: rights.ok()?,
    })
}

fn reach(keys: &mut Keys<'_>, known_gauges: &KnownGauges) -> Option<Reach> {
    let slug = keys.slug();
    let name = keys.text("name", NAME_MAX);
    keys.need("latitude");
    keys.need("longitude");
    let (latitude, longitude) = (latitude(keys), longitude(keys));
    let elevation_m = keys.number("elevation_m", -500.0, 9000.0, "metres above the sea between -500 and 9000");
    let water_type = keys.word("water_type", WaterType::parse);
    let gauges = if keys.has("gauges") { Some(gauges(keys, known_gauges)) } else { None };
    keys.value("gauges");
    let slug = slug?;
    // Without a word the gauge of the same name serves, where there is one.
    let gauges = gauges.unwrap_or_else(|| {
        if known_gauges.is_left_out(&slug) {
            keys.fault("gauges", slug.as_str(), FaultKind::Unknown, LEFT_OUT);
        }
        known_gauges.find(&slug).cloned().into_iter().collect()
    });
    Some(Reach {
        name: name.unwrap_or_else(|| slug.as_str().to_owned()),
        slug,
        latitude: latitude?,
        longitude: longitude?,
        elevation_m,
        water_type,
        gauges,
    })
}

fn gauges(keys: &mut Keys<'_>, known: &KnownGauges) -> Vec<Slug> {
    let mut found: Vec<Slug> = Vec::new();
    let Some(array) = keys.array("gauges") else { return found };
    let array: &[Spanned<DeValue<'_>>] = array;
    for value in array {
        let text = value.get_ref().as_str().unwrap_or_default();
        let slug = Slug::new(text).ok();
        match slug.as_ref().and_then(|slug| known.find(slug)) {
            Some(gauge) if found.contains(gauge) => {
                keys.fault("gauges", text, FaultKind::Conflict, "is named twice");
            }
            Some(gauge) => found.push(gauge.clone()),
            None if slug.is_some_and(|slug| known.is_left_out(&slug)) => {
                keys.fault("gauges", text, FaultKind::Unknown, LEFT_OUT);
            }
            None => keys.fault("gauges", text, FaultKind::Unknown, "is not a gauge declared here or known already"),
        }
    }
    found
}
