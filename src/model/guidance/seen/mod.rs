//! "What did I just see?": the residents of a reach ranked by what somebody saw of one insect.
//!
//! Odds are the forecast's expectation for the day and hour times one factor for each sign given: how
//! much likelier the sign is of this taxon than of any insect at the water (a likelihood ratio). "None
//! of these" has a weight of its own and takes every sign with factor 1, so that it wins where no
//! resident fits. What nobody knows of a taxon speaks neither for it nor against it.

mod expected;
mod look_next;
mod signs;

pub use signs::{SignKind, tails_of, way_of_order};

use super::Candidate;
use crate::domain::{Colour, Seen, Taxon, WingsHeld};

/// Weight of an insect that is not on the list, on the scale of [`expected::expected`]: as much as one
/// chance in ten of sparse numbers at their hour (common practice, no source).
const NONE_OF_THESE: f64 = 0.1;
/// Least weight of a resident: forecasts err, and some stay about long after their day (common practice,
/// no source).
const STRAYS: f64 = 0.01;
/// Factors within this of 1 are not told as reasons.
const TOLD_FROM: f64 = 1.2;

/// How a length lies to those of a taxon.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Below them.
    Shorter,
    /// Among them.
    Within,
    /// Above them.
    Longer,
}

/// Whether the moment is the insect's.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hour {
    /// Hours are not worth a word.
    NotTold,
    /// It flies at this hour.
    OfFlight,
    /// It emerges at this hour.
    Its,
    /// It does not.
    NotIts,
    /// Nobody knows its hours.
    Unknown,
}

/// What tells for or against a taxon.
#[derive(Debug, Clone, PartialEq)]
pub enum Because {
    /// Its length, mm, and those of the taxon.
    Length {
        /// As told.
        mm: f64,
        /// How it lies to the others.
        place: Place,
        /// Of the taxon, smallest and largest.
        own: (f64, f64),
    },
    /// Its tails.
    Tails {
        /// As told, where the taxon does not have so many.
        other: Option<u8>,
        /// Those of the taxon.
        own: Vec<u8>,
    },
    /// How the order holds its wings.
    Wings {
        /// The order.
        order: String,
        /// True where it holds them so.
        so: bool,
        /// How.
        held: WingsHeld,
    },
    /// Its colours.
    Colours {
        /// Of which part.
        part: SignKind,
        /// As told, where none is the taxon's.
        other: Vec<Colour>,
        /// Those of the taxon.
        own: Vec<Colour>,
    },
    /// The forecast: the chance to see any on the day, and whether it is its hour.
    Forecast(f64, Hour),
    /// It is not forecast for the day.
    NotForecast,
}

/// What to look at next.
#[derive(Debug, Clone, PartialEq)]
pub enum Look {
    /// Nothing on the list fits.
    NothingFits,
    /// A sign that parts the first two.
    At(SignKind),
    /// Nothing parts the first two.
    NothingParts,
    /// At several, and put them back.
    AtSeveral,
}

/// Something that tells for or against a taxon.
#[derive(Debug, Clone, PartialEq)]
pub struct Reason {
    /// What.
    pub because: Because,
    /// By how much it multiplies the odds against any insect; `None` for the forecast, which is where
    /// odds begin.
    pub factor: Option<f64>,
    /// Where the trait comes from that it rests on.
    pub provenance: String,
}

/// A taxon with its odds.
#[derive(Debug, Clone, PartialEq)]
pub struct Match<'a> {
    /// The taxon.
    pub taxon: &'a Taxon,
    /// Share of the weight, 0 to 1.
    pub odds: f64,
    /// What tells for it, most telling first.
    pub speaks_for: Vec<Reason>,
    /// What tells against it, most telling first.
    pub speaks_against: Vec<Reason>,
}

/// The answer. Odds of all taxa and of none of them sum to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Ranking<'a> {
    /// Residents, the likeliest first.
    pub taxa: Vec<Match<'a>>,
    /// Odds of an insect that is none of these.
    pub none_of_these: f64,
    /// What to look at next, most telling first.
    pub look_next: Vec<Look>,
}

/// Ranks `residents` by `seen`. `candidates` are what the forecast says of some of them at the moment.
/// The same input gives the same answer.
#[must_use]
pub fn rank<'a>(residents: &[&'a Taxon], candidates: &[Candidate<'_>], seen: &Seen) -> Ranking<'a> {
    let mut taxa: Vec<Match<'a>> = residents
        .iter()
        .map(|taxon| {
            let own: Vec<&Candidate<'_>> = candidates.iter().filter(|one| one.taxon.slug == taxon.slug).collect();
            let expected: f64 = own.iter().map(|one| expected::expected(one)).sum();
            let told = signs::told(taxon, seen);
            let factor: f64 = told.iter().filter_map(|reason| reason.factor).product();
            let (mut speaks_for, mut speaks_against) = part(told);
            match expected::speaks(&own) {
                (true, reason) => speaks_for.push(reason),
                (false, reason) => speaks_against.push(reason),
            }
            Match { taxon, odds: (expected + STRAYS) * factor, speaks_for, speaks_against }
        })
        .collect();
    let sum = taxa.iter().map(|one| one.odds).sum::<f64>() + NONE_OF_THESE;
    for one in &mut taxa {
        one.odds /= sum;
    }
    // Stable: equal odds keep the order of the residents.
    taxa.sort_by(|a, b| b.odds.total_cmp(&a.odds));
    let none_of_these = NONE_OF_THESE / sum;
    let look_next = look_next::look_next(&taxa, none_of_these, seen);
    Ranking { taxa, none_of_these, look_next }
}

/// Reasons that tell for, and against; what hardly tells is left out.
fn part(mut told: Vec<Reason>) -> (Vec<Reason>, Vec<Reason>) {
    let strength = |reason: &Reason| reason.factor.map_or(0.0, |factor| factor.ln().abs());
    told.retain(|reason| strength(reason) >= TOLD_FROM.ln());
    told.sort_by(|a, b| strength(b).total_cmp(&strength(a)));
    told.into_iter().partition(|reason| reason.factor.is_some_and(|factor| factor > 1.0))
}
