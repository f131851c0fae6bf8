//! Taxa with the traits that serve as priors and guidance.

use super::place::{word_for, word_of};
use super::{Invalid, Looks, Slug, VernacularName, WindowReference};

/// A season window longer than this is not one brood, days.
const LONGEST_WINDOW_DAYS: u32 = 100;

/// Days of an ordinary year.
const YEAR_DAYS: u32 = 365;
/// What parts the seasons of the hemispheres, days of an ordinary year.
const HALF_YEAR_DAYS: u32 = 182;

/// Where a group of trait values comes from, in words, shown with them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Provenance {
    /// Of the thermal values.
    pub thermal: String,
    /// Of the season window.
    pub window: String,
    /// Of behaviour and hours.
    pub behaviour: String,
    /// Of body length and hook range.
    pub size: String,
    /// Of tails and colours.
    pub looks: String,
}

/// A day of the year as month and day, without a year (29 February is not used).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct MonthDay {
    /// 1..=12.
    pub month: u8,
    /// 1..=31.
    pub day: u8,
}

impl MonthDay {
    /// Reads `MM-DD`.
    ///
    /// # Errors
    /// [`Invalid`] naming `field` when the text is not a day of an ordinary year.
    pub fn parse(field: &'static str, text: &str) -> Result<Self, Invalid> {
        let fault = || Invalid::new(field, text, "must be a day of the year as MM-DD");
        let (month, day) = text.split_once('-').ok_or_else(fault)?;
        let (month, day) = (month.parse::<u8>().map_err(|_| fault())?, day.parse::<u8>().map_err(|_| fault())?);
        chrono::NaiveDate::from_ymd_opt(2023, u32::from(month), u32::from(day)).ok_or_else(fault)?;
        Ok(Self { month, day })
    }

    /// The day half a year later.
    #[must_use]
    pub fn half_a_year_later(self) -> Self {
        use chrono::Datelike;
        let day = (self.day_of_year() + HALF_YEAR_DAYS - 1) % YEAR_DAYS + 1;
        let date = chrono::NaiveDate::from_yo_opt(2023, day);
        date.map_or(self, |date| Self { month: date.month() as u8, day: date.day() as u8 })
    }

    /// Day of an ordinary year, 1..=365.
    #[must_use]
    pub fn day_of_year(self) -> u32 {
        use chrono::Datelike;
        chrono::NaiveDate::from_ymd_opt(2023, u32::from(self.month), u32::from(self.day)).map_or(1, |d| d.ordinal())
    }
}

impl std::fmt::Display for MonthDay {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:02}-{:02}", self.month, self.day)
    }
}

/// Prior for one brood (generation) of a taxon.
#[derive(Debug, Clone, PartialEq)]
pub struct Brood {
    /// 1 for the first of the year.
    pub number: u8,
    /// Prior median day of the year.
    pub median_day_of_year: f64,
    /// Its standard deviation, days.
    pub sd_days: f64,
    /// Where it comes from.
    pub provenance: String,
}

/// How the winged insect leaves the water.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum EmergenceMode {
    /// At the surface, mid-stream.
    Surface,
    /// Winged already when it leaves the bottom.
    Bottom,
    /// The nymph crawls out.
    CrawlOut,
    /// A pupa rises to the surface.
    PupalAscent,
}

impl EmergenceMode {
    /// All variants with their words.
    pub const WORDS: [(Self, &'static str); 4] = [
        (Self::Surface, "surface"),
        (Self::Bottom, "bottom"),
        (Self::CrawlOut, "crawl-out"),
        (Self::PupalAscent, "pupal-ascent"),
    ];

    /// Reads a word.
    ///
    /// # Errors
    /// [`Invalid`] for any other word.
    pub fn parse(text: &str) -> Result<Self, Invalid> {
        word_of(&Self::WORDS, "emergence_mode", text)
    }

    /// The word of this variant.
    #[must_use]
    pub fn as_str(self) -> &'static str {
        word_for(&Self::WORDS, self)
    }
}

/// A species, group or genus with traits. Every trait may be missing: the priors are then wide.
#[derive(Debug, Clone, PartialEq)]
pub struct Taxon {
    /// Unique short name, global.
    pub slug: Slug,
    /// Scientific name of the lowest rank determined, or of the group.
    pub scientific_name: String,
    /// What people call it, the usual name of each language first.
    pub names: Vec<VernacularName>,
    /// `species`, `genus`, `family`, `order` or `group`.
    pub rank: String,
    /// Order, for example Ephemeroptera.
    pub order: Option<String>,
    /// Region the traits speak of.
    pub region: Option<String>,
    /// Lower developmental threshold, degrees Celsius.
    pub base_temp_c: Option<f64>,
    /// Its standard deviation.
    pub base_temp_sd: Option<f64>,
    /// Season window, first and last usual day.
    pub window: Option<(MonthDay, MonthDay)>,
    /// The waters that the window and the middles of broods speak of; `None` means those it lives in.
    pub window_reference: Option<WindowReference>,
    /// Hour of peak emergence, local solar time.
    pub peak_hour: Option<f64>,
    /// Its standard deviation, hours.
    pub peak_hour_sd: Option<f64>,
    /// When spinners fly, in words.
    pub spinner_time: Option<String>,
    /// How the winged insect leaves the water.
    pub emergence_mode: Option<EmergenceMode>,
    /// How eggs are laid: `dip`, `dive`, `surface_or_dive`, `rock`, `edge` and the like.
    pub oviposition_mode: Option<String>,
    /// Habit of the nymph: swimmer, crawler, clinger, burrower, ...
    pub nymph_habit: Option<String>,
    /// Generations a year, in words.
    pub voltinism: Option<String>,
    /// Body length without tails, smallest and largest, mm.
    pub body_mm: Option<(f64, f64)>,
    /// Tails and colours.
    pub looks: Looks,
    /// Hook range, larger hook (smaller number) first.
    pub hooks: Option<(u8, u8)>,
    /// Water it prefers, in words.
    pub water_type: Option<String>,
    /// Water temperatures at emergence, degrees Celsius, low and high.
    pub emergence_water_c: Option<(f64, f64)>,
    /// Where the values come from.
    pub provenance: Provenance,
    /// Anything else.
    pub note: Option<String>,
    /// Broods; empty means one brood placed by the window.
    pub broods: Vec<Brood>,
}

impl Taxon {
    /// Middle day of the season window (1 is 1 January), which may wrap over New Year; `None` for windows too
    /// long for one brood.
    #[must_use]
    pub fn window_middle(&self) -> Option<f64> {
        let (early, late) = self.window?;
        let (early, late) = (early.day_of_year(), late.day_of_year());
        let length = (late + 365 - early) % 365;
        (length <= LONGEST_WINDOW_DAYS).then(|| f64::from((early + length / 2 - 1) % 365 + 1))
    }

    /// As it lives at `latitude_deg` degrees north: south of the equator the season that was told of a northern region
    /// comes half a year later. Its year is then cut elsewhere too ([`super::season::Cycle`]).
    #[must_use]
    pub fn living_at(&self, latitude_deg: f64) -> Self {
        let mut here = self.clone();
        if self.is_turned_at(latitude_deg) {
            here.window = self.window.map(|(early, late)| (early.half_a_year_later(), late.half_a_year_later()));
            for brood in &mut here.broods {
                brood.median_day_of_year = half_a_year_from(brood.median_day_of_year);
            }
        }
        here
    }

    /// Whether [`Taxon::living_at`] turns its season.
    #[must_use]
    pub fn is_turned_at(&self, latitude_deg: f64) -> bool {
        // A window that speaks of the water itself is where it belongs.
        latitude_deg < 0.0 && self.window_reference.is_some()
    }

    /// A taxon without traits: wide priors.
    #[must_use]
    pub fn bare(slug: Slug, scientific_name: impl Into<String>, rank: impl Into<String>) -> Self {
        Self {
            slug,
            scientific_name: scientific_name.into(),
            names: Vec::new(),
            rank: rank.into(),
            order: None,
            region: None,
            base_temp_c: None,
            base_temp_sd: None,
            window: None,
            window_reference: None,
            peak_hour: None,
            peak_hour_sd: None,
            spinner_time: None,
            emergence_mode: None,
            oviposition_mode: None,
            nymph_habit: None,
            voltinism: None,
            body_mm: None,
            looks: Looks::default(),
            hooks: None,
            water_type: None,
            emergence_water_c: None,
            provenance: Provenance::default(),
            note: None,
            broods: Vec::new(),
        }
    }

    /// `Large dark olive (Baetis rhodani)`: its usual name in `language` with the scientific one, or that alone.
    #[must_use]
    pub fn title(&self, language: &str) -> String {
        self.usual_name(language)
            .map_or_else(|| self.scientific_name.clone(), |usual| format!("{usual} ({})", self.scientific_name))
    }

    /// Its usual name in `language` (two letters), whatever the region; `None` where nobody said one.
    #[must_use]
    pub fn usual_name(&self, language: &str) -> Option<&str> {
        let of = |tag: &str| tag.split('-').next() == Some(language);
        self.names.iter().find(|known| of(&known.language)).map(|known| known.name.as_str())
    }
}

/// The real-valued day of an ordinary year half a year from `day_of_year` (1 is 1 January), which is as far both ways.
#[must_use]
pub fn half_a_year_from(day_of_year: f64) -> f64 {
    let year = f64::from(YEAR_DAYS);
    (day_of_year - 1.0 + year / 2.0).rem_euclid(year) + 1.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seasons_of_the_north_come_half_a_year_later_in_the_south() {
        let mut taxon = Taxon::bare(Slug::new("x").expect("a slug"), "Ephemera danica", "species");
        taxon.window = Some((MonthDay { month: 5, day: 10 }, MonthDay { month: 6, day: 25 }));
        taxon.broods = vec![Brood { number: 1, median_day_of_year: 153.0, sd_days: 12.0, provenance: String::new() }];
        assert_eq!(taxon.living_at(-40.0), taxon, "told of the water itself");
        taxon.window_reference = Some(WindowReference::NorthernEurope);
        assert_eq!(taxon.living_at(52.0), taxon);
        let south = taxon.living_at(-40.0);
        let window = south.window.expect("a window");
        assert_eq!((window.0.to_string(), window.1.to_string()), ("11-08".to_owned(), "12-24".to_owned()));
        assert_eq!(south.broods[0].median_day_of_year, 335.5);
        assert_eq!(half_a_year_from(335.5), 153.0);
        assert_eq!(half_a_year_from(300.0), 117.5);
    }

    #[test]
    fn the_usual_name_is_the_first_of_its_language() {
        let name = |language: &str, name: &str| VernacularName {
            language: language.to_owned(),
            name: name.to_owned(),
            provenance: String::new(),
        };
        let mut taxon = Taxon::bare(Slug::new("x").expect("a slug"), "Baetis rhodani", "species");
        assert_eq!(taxon.usual_name("en"), None);
        taxon.names =
            vec![name("eng", "no"), name("en-GB", "Large dark olive"), name("en", "Blue dun"), name("de", "x")];
        assert_eq!(taxon.usual_name("en"), Some("Large dark olive"));
        assert_eq!(taxon.usual_name("de"), Some("x"));
        assert_eq!(taxon.usual_name("fr"), None);
    }
}
