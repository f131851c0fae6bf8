//! Guidance: which insects, which life stage, what size, and why.
//!
//! The moment is a mixture of cases: nothing comes, or one taxon in one class is at one phase of its day
//! (see [`cases`]). A table of rules (see [`rules`]) weighs the stages of each case and the cases
//! themselves; every answer carries the rules that fired. Weights say what to try first, not how many
//! fish eat what: common practice, no source, except where a rule says otherwise.

mod advise;
mod cases;
mod imitations;
mod rule;
mod rules;
mod rules_of_signs;
mod rules_of_weather;
pub mod seen;

pub use advise::{Advice, Fired, Hint, advise};
pub use rule::{Kind, Laying, Phase, Rule};

/// The rows of the table of rules: their names, why they say what they say, what they tell to look at, and where they
/// come from.
pub fn rows_in_words() -> impl Iterator<Item = (&'static str, &'static str, Option<&'static str>, &'static str)> {
    rules::rules().map(|rule| (rule.id, rule.because, rule.check, rule.provenance))
}

/// The generic names of imitations.
pub fn imitation_names() -> impl Iterator<Item = &'static str> {
    imitations::all_names()
}

use crate::domain::{Condition, Sign, Taxon, WaterType};

/// Hours of an event of the day, seen from the moment asked about.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// Hours since the middle of the event; negative before it.
    pub since_middle_h: f64,
    /// Spread of the event around its middle (one standard deviation), hours.
    pub spread_h: f64,
}

/// The spinner flight, or the flight of egg-laying adults, of a day.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExpectedFlight {
    /// Its hours.
    pub window: Window,
    /// Chance of at least a sparse flight, 0 to 1.
    pub chance: f64,
}

/// A taxon that may be about, one brood of it.
#[derive(Debug, Clone, Copy)]
pub struct Candidate<'a> {
    /// Its traits.
    pub taxon: &'a Taxon,
    /// The day's chances of none, sparse, moderate and heavy; sum 1.
    pub classes: [f64; 4],
    /// Share of its season's emergence completed, 0 to 1.
    pub completed: f64,
    /// Hours of emergence; `None` where nothing is known of them.
    pub emergence: Option<Window>,
    /// Its flight of this day; `None` where nothing is known of it.
    pub flight: Option<ExpectedFlight>,
}

/// Where and when, and what was seen.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Moment {
    /// Kind of water of the reach.
    pub water: Option<WaterType>,
    /// True when the sun is well down.
    pub dark: bool,
    /// Signs from the bank.
    pub signs: Vec<Sign>,
    /// What the hour is like, as seen on the bank.
    pub here: Vec<Condition>,
    /// What the hour is like, as forecast.
    pub forecast: Vec<Condition>,
}
