//! The taxa that come with the program: traits and broods with their provenance.

use std::collections::BTreeMap;

use thiserror::Error;

use crate::domain::looks::{check_language, check_tails};
use crate::domain::taxon::{EmergenceMode, MonthDay, Provenance};
use crate::domain::{Brood, Colour, Invalid, Looks, Slug, Taxon, VernacularName, WindowReference};

const TRAITS: &str = include_str!("../seed/taxa_traits.csv");
const BROODS: &str = include_str!("../seed/taxa_broods.csv");
const LOOKS: &str = include_str!("../seed/taxa_looks.csv");
const NAMES: &str = include_str!("../seed/taxa_names.csv");

/// A fault in the tables that come with the program.
#[derive(Debug, Error)]
pub enum SeedError {
    /// The table cannot be read.
    #[error("the table of taxa cannot be read")]
    Table(#[from] csv::Error),
    /// A value breaks a rule.
    #[error("taxon {slug}")]
    Value {
        /// The taxon.
        slug: String,
        /// The broken rule.
        source: Invalid,
    },
}

type Row = BTreeMap<String, String>;

/// All taxa of the tables, in their order. What the domain has no field for (degree-day sums, hours
/// in words, the region that the window speaks of) stands in the note and the provenance.
///
/// # Errors
/// [`SeedError`] when a table is damaged; a test holds that it is not.
pub fn seed_taxa() -> Result<Vec<Taxon>, SeedError> {
    let mut broods: BTreeMap<String, Vec<Brood>> = BTreeMap::new();
    for row in rows(BROODS)? {
        let slug = text(&row, "slug");
        let brood = brood(&row).map_err(|source| SeedError::Value { slug: slug.clone(), source })?;
        broods.entry(slug).or_default().push(brood);
    }
    let mut taxa: Vec<Taxon> = rows(TRAITS)?
        .iter()
        .map(|row| {
            let slug = text(row, "slug");
            let broods = broods.remove(&slug).unwrap_or_default();
            taxon(row, broods).map_err(|source| SeedError::Value { slug, source })
        })
        .collect::<Result<_, _>>()?;
    for row in rows(LOOKS)? {
        let slug = text(&row, "slug");
        let looks = looks(&row).map_err(|source| SeedError::Value { slug: slug.clone(), source })?;
        let known = of(&mut taxa, &slug)?;
        (known.looks, known.provenance.looks) = (looks, text(&row, "provenance"));
    }
    for row in rows(NAMES)? {
        let slug = text(&row, "slug");
        let language = check_language(&text(&row, "language"))
            .map_err(|source| SeedError::Value { slug: slug.clone(), source })?;
        let name = VernacularName { language, name: text(&row, "name"), provenance: text(&row, "provenance") };
        of(&mut taxa, &slug)?.names.push(name);
    }
    Ok(taxa)
}

/// The taxon that a row of another table speaks of.
fn of<'t>(taxa: &'t mut [Taxon], slug: &str) -> Result<&'t mut Taxon, SeedError> {
    let known = taxa.iter_mut().find(|taxon| taxon.slug.as_str() == slug);
    known.ok_or_else(|| SeedError::Value {
        slug: slug.to_owned(),
        source: Invalid::new("slug", slug, "is not in the table of traits"),
    })
}

/// Tails and colours, each list separated by spaces.
fn looks(row: &Row) -> Result<Looks, Invalid> {
    let colours = |column| text(row, column).split_whitespace().map(Colour::parse).collect::<Result<_, _>>();
    let tails =
        |word: &str| word.parse().map_err(|_| Invalid::new("tails", word, "must be a number")).and_then(check_tails);
    Ok(Looks {
        tails: text(row, "tails").split_whitespace().map(tails).collect::<Result<_, _>>()?,
        body: colours("body_colours")?,
        wings: colours("wing_colours")?,
    })
}

fn rows(table: &str) -> Result<Vec<Row>, csv::Error> {
    csv::Reader::from_reader(table.as_bytes()).deserialize().collect()
}

fn text(row: &Row, column: &str) -> String {
    row.get(column).map(|value| value.trim().to_owned()).unwrap_or_default()
}

fn opt(row: &Row, column: &str) -> Option<String> {
    Some(text(row, column)).filter(|value| !value.is_empty())
}

fn number<T: std::str::FromStr>(row: &Row, column: &'static str) -> Result<Option<T>, Invalid> {
    let parse = |value: String| value.parse().map_err(|_| Invalid::new(column, value, "must be a number"));
    opt(row, column).map(parse).transpose()
}

fn pair<T>(low: Option<T>, high: Option<T>) -> Option<(T, T)> {
    low.zip(high)
}

fn brood(row: &Row) -> Result<Brood, Invalid> {
    let need = |column: &'static str| Invalid::new(column, "", "is empty");
    Ok(Brood {
        number: number(row, "brood")?.ok_or_else(|| need("brood"))?,
        median_day_of_year: number(row, "median_day_of_year")?.ok_or_else(|| need("median_day_of_year"))?,
        sd_days: number(row, "sd_days")?.ok_or_else(|| need("sd_days"))?,
        provenance: text(row, "provenance"),
    })
}

/// The waters that the table names in words.
fn window_reference(words: &str) -> Result<WindowReference, Invalid> {
    match words {
        "lowland to mid-elevation, about 41-45 N" => Ok(WindowReference::MidLatitudes),
        "British and central European rivers, about 50-54 N" => Ok(WindowReference::NorthernEurope),
        "coastal plain of the south-eastern United States, about 30-34 N" => Ok(WindowReference::SoutheasternPlain),
        other => Err(Invalid::new("window_reference", other, "is no region that we know the water of")),
    }
}

fn taxon(row: &Row, broods: Vec<Brood>) -> Result<Taxon, Invalid> {
    let day = |column: &'static str| opt(row, column).map(|value| MonthDay::parse(column, &value)).transpose();
    let join = |parts: [Option<String>; 2]| parts.into_iter().flatten().collect::<Vec<_>>().join("; ");
    let hours_in_words = opt(row, "time_of_day").map(|words| format!("emerges {words}"));
    let sum = opt(row, "degree_days").map(|sum| format!("{sum} degree-days: {}", text(row, "degree_days_definition")));
    let window_of = opt(row, "window_reference").map(|place| format!("for {place}"));
    let note = join([hours_in_words, opt(row, "note")]);
    Ok(Taxon {
        slug: Slug::new(&text(row, "slug"))?,
        scientific_name: text(row, "taxon"),
        names: Vec::new(),
        rank: text(row, "rank"),
        order: opt(row, "order"),
        region: opt(row, "region"),
        base_temp_c: number(row, "base_temp_c")?,
        base_temp_sd: number(row, "base_temp_sd")?,
        window: pair(day("window_early")?, day("window_late")?),
        window_reference: opt(row, "window_reference").map(|words| window_reference(&words)).transpose()?,
        peak_hour: number(row, "peak_hour_local_solar")?,
        peak_hour_sd: number(row, "peak_hour_sd")?,
        spinner_time: opt(row, "spinner_time"),
        emergence_mode: opt(row, "emergence_mode").map(|word| EmergenceMode::parse(&word)).transpose()?,
        oviposition_mode: opt(row, "oviposition_mode"),
        nymph_habit: opt(row, "nymph_habit"),
        voltinism: opt(row, "voltinism"),
        body_mm: pair(number(row, "body_mm_min")?, number(row, "body_mm_max")?),
        looks: Looks::default(),
        hooks: pair(number(row, "hook_size_large")?, number(row, "hook_size_small")?),
        water_type: opt(row, "water_type"),
        emergence_water_c: pair(
            number(row, "water_temp_emergence_c_low")?,
            number(row, "water_temp_emergence_c_high")?,
        ),
        provenance: Provenance {
            thermal: join([opt(row, "provenance_thermal"), sum]),
            window: join([opt(row, "provenance_window"), window_of]),
            behaviour: text(row, "provenance_behaviour"),
            size: text(row, "provenance_size"),
            looks: String::new(),
        },
        note: Some(note).filter(|note| !note.is_empty()),
        broods,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_taxon_of_the_tables_is_read_with_its_broods() {
        let taxa = seed_taxa().expect("sound tables");
        assert_eq!(taxa.len(), rows(TRAITS).expect("table").len());
        assert_eq!(taxa.iter().map(|t| t.broods.len()).sum::<usize>(), rows(BROODS).expect("table").len());
        assert!(taxa.iter().all(|t| t.window.is_some() && t.peak_hour.is_some() && t.base_temp_sd.is_some()));
        let told_of = |reference| taxa.iter().filter(|taxon| taxon.window_reference == Some(reference)).count();
        let regions = WindowReference::WORDS.map(|(reference, _)| told_of(reference));
        assert_eq!((regions.iter().sum::<usize>(), regions[2]), (taxa.len(), 1), "{regions:?}");
        // Only the midges, on the wing all year, are without.
        let unplaced: Vec<&str> = taxa.iter().filter(|t| t.broods.is_empty()).map(|t| t.slug.as_str()).collect();
        assert_eq!(unplaced, ["chironomidae-river-and-lake-midges"]);
        assert!(taxa.iter().all(|t| !t.provenance.thermal.is_empty() && !t.provenance.behaviour.is_empty()));
        let mut slugs: Vec<String> = taxa.iter().map(|t| t.slug.key()).collect();
        slugs.sort();
        slugs.dedup();
        assert_eq!(slugs.len(), taxa.len());
    }

    #[test]
    fn values_and_words_stand_where_they_belong() {
        let taxa = seed_taxa().expect("sound tables");
        let of = |slug: &str| taxa.iter().find(|t| t.slug.as_str() == slug).expect("present");
        let danica = of("ephemera-danica");
        assert_eq!((danica.base_temp_c, danica.base_temp_sd), (Some(2.85), Some(1.0)));
        let caenis = of("caenis");
        assert_eq!(caenis.body_mm, Some((2.5, 5.0)));
        assert_eq!(caenis.broods.iter().map(|b| b.median_day_of_year).collect::<Vec<_>>(), [170.0, 235.0]);
        assert_eq!(of("brachycentrus").emergence_mode, Some(EmergenceMode::PupalAscent));
        assert_eq!(of("habroleptoides").emergence_mode, Some(EmergenceMode::CrawlOut));
        let winter = of("capnia-allocapnia-and-other-winter-stoneflies").window.expect("window");
        assert_eq!((winter.0.to_string(), winter.1.to_string()), ("12-15".to_owned(), "04-15".to_owned()));
        assert!(of("baetis-rhodani").provenance.thermal.contains("950 degree-days"));
        assert!(taxa.iter().all(|t| t.hooks.is_some_and(|(large, small)| large <= small)));
    }

    #[test]
    fn looks_follow_the_order_and_names_are_told_once() {
        let taxa = seed_taxa().expect("sound tables");
        // Cerci two in stoneflies, two with or without a middle filament in mayflies, none to be seen in caddis
        // and two-winged flies: characters of the orders (any text of entomology; from memory).
        for taxon in taxa.iter().filter(|taxon| !taxon.looks.tails.is_empty()) {
            let allowed: &[u8] = match taxon.order.as_deref() {
                Some("Ephemeroptera") => &[2, 3],
                Some("Plecoptera") if taxon.slug.as_str() == "leuctra" => &[0, 2],
                Some("Plecoptera") => &[2],
                _ => &[0],
            };
            assert!(taxon.looks.tails.iter().all(|tails| allowed.contains(tails)), "{}", taxon.slug);
            assert!(!taxon.looks.body.is_empty() && !taxon.looks.wings.is_empty(), "{}", taxon.slug);
            assert!(taxon.provenance.looks.contains("no source"), "{}", taxon.slug);
        }
        let bare: Vec<&str> = taxa.iter().filter(|t| t.looks.tails.is_empty()).map(|t| t.slug.as_str()).collect();
        assert_eq!(bare, ["dolania-americana"], "its sexes and stages differ, and we do not know it well enough");
        for taxon in &taxa {
            let mut told: Vec<(&str, &str)> = taxon.names.iter().map(|n| (&*n.language, &*n.name)).collect();
            told.sort_unstable();
            told.dedup();
            assert_eq!(told.len(), taxon.names.len(), "{}", taxon.slug);
            let known = ["common practice, no source", "common practice, from memory"];
            let sound = |name: &VernacularName| !name.name.is_empty() && known.contains(&name.provenance.as_str());
            assert!(taxon.names.iter().all(sound), "{}", taxon.slug);
        }
        let rhodani = taxa.iter().find(|t| t.slug.as_str() == "baetis-rhodani").expect("present");
        assert_eq!(rhodani.usual_name("en"), Some("Large dark olive"));
    }
}
