//! What a rule is made of: conditions on a case, and what it does where they hold.

use super::Moment;
use super::cases::Case;
use crate::domain::taxon::EmergenceMode;
use crate::domain::{AbundanceClass, Condition, Sign, Stage, Taxon, WaterType};

/// Phase of a taxon's day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Phase {
    /// Nothing comes.
    Quiet,
    /// Up to three hours before the first winged insects.
    Before,
    /// The first of them.
    Early,
    /// The likeliest hours.
    Peak,
    /// The last of them.
    Tail,
    /// Spinners, or egg-laying adults, return.
    Flight,
}

/// Which life stages an insect has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Nymph, dun, spinner.
    Mayfly,
    /// Nymph and adult.
    Stonefly,
    /// Larva, pupa, adult; larger.
    Caddis,
    /// Larva, pupa, adult; midges and other two-winged flies.
    Midge,
}

impl Kind {
    /// The kind of `taxon`; without an order it is read from how the insect emerges.
    #[must_use]
    pub fn of(taxon: &Taxon) -> Self {
        match taxon.order.as_deref() {
            Some("Ephemeroptera") => Self::Mayfly,
            Some("Trichoptera") => Self::Caddis,
            Some("Diptera") => Self::Midge,
            Some(_) => Self::Stonefly,
            None if taxon.emergence_mode == Some(EmergenceMode::PupalAscent) => Self::Caddis,
            None => Self::Mayfly,
        }
    }

    /// The stages it has.
    #[must_use]
    pub fn stages(self) -> &'static [Stage] {
        match self {
            Self::Mayfly => &[Stage::Nymph, Stage::Emerger, Stage::Dun, Stage::Spinner, Stage::Spent],
            Self::Stonefly => &[Stage::Nymph, Stage::Adult],
            Self::Caddis | Self::Midge => &[Stage::Nymph, Stage::Pupa, Stage::Emerger, Stage::Adult],
        }
    }

    /// How `taxon` of this kind emerges. Caddis and midges rise as pupae whatever a table calls it, unless
    /// they crawl out; where nothing is said, stoneflies crawl out and mayflies hatch at the surface.
    #[must_use]
    pub fn mode(self, taxon: &Taxon) -> EmergenceMode {
        match (self, taxon.emergence_mode) {
            (Self::Midge, _) => EmergenceMode::PupalAscent,
            (Self::Caddis, mode) if mode != Some(EmergenceMode::CrawlOut) => EmergenceMode::PupalAscent,
            (Self::Stonefly, None) => EmergenceMode::CrawlOut,
            (_, mode) => mode.unwrap_or(EmergenceMode::Surface),
        }
    }
}

/// Where eggs are laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Laying {
    /// On the surface, by dips or in one batch.
    Surface,
    /// Under water.
    Dive,
    /// Some so, some so.
    Either,
    /// From a stone, with the abdomen under water.
    Stone,
    /// On land or plants at the edge.
    Edge,
    /// Nothing is said.
    Unknown,
}

impl Laying {
    /// Reads the trait's words.
    #[must_use]
    pub fn of(taxon: &Taxon) -> Self {
        let words = taxon.oviposition_mode.as_deref().unwrap_or_default().to_lowercase();
        let has = |part: &str| words.contains(part);
        match () {
            () if has("stone") || has("rock") => Self::Stone,
            () if has("edge") || has("terrestrial") => Self::Edge,
            () if has("surface") && has("dive") => Self::Either,
            () if has("dive") || has("under") => Self::Dive,
            () if has("surface") || has("dip") || has("mass") => Self::Surface,
            () => Self::Unknown,
        }
    }
}

/// A condition on a case.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum When {
    /// No taxon is known to be about.
    NoTaxon,
    /// A taxon is.
    AnyTaxon,
    /// How it emerges.
    Mode(EmergenceMode),
    /// What it is.
    Kind(&'static [Kind]),
    /// The phase of its day.
    In(&'static [Phase]),
    /// How it lays.
    Laying(&'static [Laying]),
    /// One of these words stands in the habit of its nymph.
    Habit(&'static [&'static str]),
    /// Largest body length, mm.
    AtMostMm(f64),
    /// How many come.
    Class(AbundanceClass),
    /// Share of the season done, from and below.
    Done(f64, f64),
    /// The kind of water.
    Water(&'static [WaterType]),
    /// The sun is well down.
    Dark,
    /// A sign was seen.
    Sign(Sign),
    /// The hour is so, seen or forecast.
    Met(Condition),
    /// The hour is so, as seen on the bank.
    Here(Condition),
    /// The hour is so by the forecast, and nobody on the bank said it.
    Forecast(Condition),
}

impl When {
    /// True when it holds for `case` at `moment`.
    pub(super) fn holds(self, case: &Case<'_>, moment: &Moment) -> bool {
        let taxon = case.candidate.map(|candidate| candidate.taxon);
        match self {
            Self::NoTaxon => taxon.is_none(),
            Self::AnyTaxon => taxon.is_some(),
            Self::Mode(mode) => taxon.is_some_and(|taxon| Kind::of(taxon).mode(taxon) == mode),
            Self::Kind(kinds) => taxon.is_some_and(|taxon| kinds.contains(&Kind::of(taxon))),
            Self::In(phases) => phases.contains(&case.phase),
            Self::Laying(ways) => taxon.is_some_and(|taxon| ways.contains(&Laying::of(taxon))),
            Self::Habit(words) => taxon
                .and_then(|taxon| taxon.nymph_habit.as_deref())
                .is_some_and(|habit| words.iter().any(|word| habit.contains(word))),
            Self::AtMostMm(most) => taxon.and_then(|taxon| taxon.body_mm).is_some_and(|(_, large)| large <= most),
            Self::Class(class) => taxon.is_some() && case.class == class,
            Self::Done(from, below) => case.candidate.is_some_and(|one| from <= one.completed && one.completed < below),
            Self::Water(kinds) => moment.water.is_some_and(|water| kinds.contains(&water)),
            Self::Dark => moment.dark,
            Self::Sign(sign) => moment.signs.contains(&sign),
            Self::Met(one) => moment.here.contains(&one) || moment.forecast.contains(&one),
            Self::Here(one) => moment.here.contains(&one),
            Self::Forecast(one) => moment.forecast.contains(&one) && !moment.here.contains(&one),
        }
    }
}

/// What a rule says of the size of the imitation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Size {
    /// That of the insect.
    AsIs,
    /// The smaller half of its range.
    SmallHalf,
    /// One hook size below its range.
    OneSmaller,
}

/// One row of the table. It fires where all of `when` holds.
#[derive(Debug)]
pub struct Rule {
    /// Stable short name.
    pub id: &'static str,
    pub(super) when: &'static [When],
    /// Factors on the weights of stages: they add to their logarithms.
    pub(super) stages: &'static [(Stage, f64)],
    /// Factor on the logarithms of the stage weights: above 1 the choice of stage matters more.
    pub(super) sharpen: f64,
    /// Factor on the weight of the case.
    pub(super) case: f64,
    /// Factor on the odds that any come today.
    pub(super) odds: f64,
    /// What it does to the size.
    pub(super) size: Size,
    /// Where to stand.
    pub(super) stand: Option<WaterType>,
    /// What to look at next.
    pub(super) check: Option<&'static str>,
    /// True where that comes before all else: somebody could be hurt.
    pub(super) urgent: bool,
    /// Why, in words.
    pub because: &'static str,
    /// A published source, "from memory", or "common practice, no source".
    pub provenance: &'static str,
}

/// A rule that does nothing: the rows name what they change.
pub(super) const IDLE: Rule = Rule {
    id: "",
    when: &[],
    stages: &[],
    sharpen: 1.0,
    case: 1.0,
    odds: 1.0,
    size: Size::AsIs,
    stand: None,
    check: None,
    urgent: false,
    because: "",
    provenance: "",
};

/// Provenance of what the trade holds true and nobody measured.
pub(super) const PRACTICE: &str = "common practice, no source";
/// Provenance of what is known, without a page to open.
pub(super) const MEMORY: &str = "from memory";

impl Rule {
    /// True when it fires for `case` at `moment`.
    pub(super) fn fires(&self, case: &Case<'_>, moment: &Moment) -> bool {
        self.when.iter().all(|when| when.holds(case, moment))
    }
}
