//! How likely each sign is of each taxon: the weights, all of them stated here.

use statrs::function::erf::erf;

use super::{Because, Place, Reason};
use crate::domain::{Colour, Seen, Taxon, WingsHeld};

/// A length judged beside a ruler or a thumbnail errs by so much of it (one standard deviation of the
/// logarithm; common practice, no source).
const LENGTH_ERROR: f64 = 0.15;
/// Share of lengths that are plainly wrong (common practice, no source).
const LENGTH_BLUNDER: f64 = 0.005;
/// Any insect at the water is this long, mm, each ratio alike likely (common practice, no source).
const ANY_LENGTH_MM: (f64, f64) = (1.0, 60.0);
/// Of colours told: the one in the table, one close to it, any other (common practice, no source).
const COLOUR: [f64; 3] = [0.6, 0.25, 0.15];
/// Numbers of tails in the order of [`TAILS`].
const COUNTS: [u8; 3] = [0, 2, 3];
/// Chance to count 0, 2, 3 tails on an insect that has 0, 2, 3: tails break off sooner than they are
/// made up (common practice, no source).
const TAILS: [[f64; 3]; 3] = [[0.94, 0.04, 0.02], [0.06, 0.9, 0.04], [0.04, 0.06, 0.9]];
/// Orders with the numbers of tails plain to see on their winged insects (characters of the orders, any
/// text of entomology; from memory).
const TAILS_OF_ORDER: [(&str, &[u8]); 6] = [
    ("Ephemeroptera", &[2, 3]),
    ("Plecoptera", &[2]),
    ("Trichoptera", &[0]),
    ("Diptera", &[0]),
    ("Megaloptera", &[0]),
    ("Odonata", &[0]),
];
/// Orders with the chance to find their wings upright, like a roof, flat, spread (characters of the
/// orders, from memory; the numbers: common practice, no source).
const WINGS_OF_ORDER: [(&str, [f64; 4]); 4] = [
    ("Ephemeroptera", [0.85, 0.01, 0.02, 0.12]),
    ("Plecoptera", [0.01, 0.06, 0.9, 0.03]),
    ("Trichoptera", [0.01, 0.9, 0.07, 0.02]),
    ("Diptera", [0.03, 0.4, 0.5, 0.07]),
];
/// Where characters of orders come from.
const OF_ORDER: &str = "character of the order, from memory";
/// Colours that one person calls so and another so (common practice, no source).
const CLOSE: [(Colour, Colour); 14] = [
    (Colour::Black, Colour::Grey),
    (Colour::Black, Colour::Brown),
    (Colour::Grey, Colour::Olive),
    (Colour::Grey, Colour::Brown),
    (Colour::Grey, Colour::Clear),
    (Colour::Brown, Colour::Rust),
    (Colour::Brown, Colour::Olive),
    (Colour::Rust, Colour::Orange),
    (Colour::Olive, Colour::Green),
    (Colour::Olive, Colour::Yellow),
    (Colour::Green, Colour::Yellow),
    (Colour::Yellow, Colour::Cream),
    (Colour::Yellow, Colour::Orange),
    (Colour::Cream, Colour::Clear),
];

/// A sign that may be looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SignKind {
    /// Body length.
    Length,
    /// Number of tails.
    Tails,
    /// How wings are held.
    Wings,
    /// Colour of the body.
    Body,
    /// Colour of the wings.
    WingColour,
}

/// What the signs given tell of `taxon`; a trait that nobody knows tells nothing.
pub(super) fn told(taxon: &Taxon, seen: &Seen) -> Vec<Reason> {
    let length = seen.length_mm.and_then(|mm| of_length(taxon, mm));
    let tails = seen.tails.and_then(|count| of_tails(taxon, count));
    let wings = seen.wings.and_then(|held| of_wings(taxon, held));
    let body = of_colours(SignKind::Body, &taxon.looks.body, &seen.body, &taxon.provenance.looks);
    let wing = of_colours(SignKind::WingColour, &taxon.looks.wings, &seen.wing_colours, &taxon.provenance.looks);
    [length, tails, wings, body, wing].into_iter().flatten().collect()
}

/// Share of a normal distribution below `z`.
fn below(z: f64) -> f64 {
    0.5 * (1.0 + erf(z / std::f64::consts::SQRT_2))
}

/// Density of the logarithm of a length told, where true lengths lie in `from..=to` mm, each ratio alike.
fn density(from: f64, to: f64, told_mm: f64) -> f64 {
    // A range of one value is as wide as the error, to both sides of it.
    let (middle, width) = (0.5 * (from.ln() + to.ln()), (to.ln() - from.ln()).max(LENGTH_ERROR));
    let (low, high) = (middle - 0.5 * width, middle + 0.5 * width);
    let x = told_mm.ln();
    (below((x - low) / LENGTH_ERROR) - below((x - high) / LENGTH_ERROR)) / (high - low)
}

fn of_length(taxon: &Taxon, mm: f64) -> Option<Reason> {
    let (from, to) = taxon.body_mm.filter(|(from, _)| *from > 0.0)?;
    let any = 1.0 / (ANY_LENGTH_MM.1 / ANY_LENGTH_MM.0).ln();
    let factor = (1.0 - LENGTH_BLUNDER) * density(from, to, mm) / any + LENGTH_BLUNDER;
    let place = match mm {
        mm if mm < from => Place::Shorter,
        mm if mm > to => Place::Longer,
        _ => Place::Within,
    };
    let because = Because::Length { mm, place, own: (from, to) };
    Some(Reason { because, factor: Some(factor), provenance: taxon.provenance.size.clone() })
}

/// The numbers of tails of `taxon` and where they come from.
#[must_use]
pub fn tails_of(taxon: &Taxon) -> Option<(&[u8], &str)> {
    if !taxon.looks.tails.is_empty() {
        return Some((&taxon.looks.tails, &taxon.provenance.looks));
    }
    let order = taxon.order.as_deref()?;
    TAILS_OF_ORDER.iter().find(|(known, _)| *known == order).map(|(_, tails)| (*tails, OF_ORDER))
}

fn row_of(count: u8) -> Option<usize> {
    COUNTS.iter().position(|known| *known == count)
}

/// Chances to count 0, 2, 3 tails on `taxon`.
pub(super) fn chances_of_tails(taxon: &Taxon) -> Option<[f64; 3]> {
    let (tails, _) = tails_of(taxon)?;
    let rows: Vec<&[f64; 3]> = tails.iter().filter_map(|count| TAILS.get(row_of(*count)?)).collect();
    (!rows.is_empty()).then(|| mean(&rows))
}

fn mean<const N: usize>(rows: &[&[f64; N]]) -> [f64; N] {
    std::array::from_fn(|k| rows.iter().map(|row| row[k]).sum::<f64>() / rows.len() as f64)
}

fn of_tails(taxon: &Taxon, count: u8) -> Option<Reason> {
    let (tails, provenance) = tails_of(taxon)?;
    let factor = COUNTS.len() as f64 * chances_of_tails(taxon)?.get(row_of(count)?)?;
    let because = Because::Tails { other: (!tails.contains(&count)).then_some(count), own: tails.to_vec() };
    Some(Reason { because, factor: Some(factor), provenance: provenance.to_owned() })
}

/// Chances to find the wings of `taxon` held in each way.
pub(super) fn chances_of_wings(taxon: &Taxon) -> Option<[f64; 4]> {
    let order = taxon.order.as_deref()?;
    WINGS_OF_ORDER.iter().find(|(known, _)| *known == order).map(|(_, chances)| *chances)
}

/// How `taxon` holds its wings at rest, by its order.
#[must_use]
pub fn way_of_order(taxon: &Taxon) -> WingsHeld {
    match taxon.order.as_deref() {
        Some("Ephemeroptera") => WingsHeld::Upright,
        Some("Trichoptera") => WingsHeld::Roof,
        _ => WingsHeld::Flat,
    }
}

fn of_wings(taxon: &Taxon, held: WingsHeld) -> Option<Reason> {
    let at = WingsHeld::WORDS.iter().position(|(known, _)| *known == held)?;
    let factor = WingsHeld::WORDS.len() as f64 * chances_of_wings(taxon)?[at];
    let order = taxon.order.as_deref().unwrap_or_default();
    let because = Because::Wings { order: order.to_owned(), so: factor > 1.0, held };
    Some(Reason { because, factor: Some(factor), provenance: OF_ORDER.to_owned() })
}

fn close(a: Colour, b: Colour) -> bool {
    CLOSE.iter().any(|pair| *pair == (a, b) || *pair == (b, a))
}

/// Chances of each colour being told of something that has the colour `own`.
fn told_of(own: Colour) -> [f64; Colour::WORDS.len()] {
    let near = Colour::WORDS.iter().filter(|(other, _)| close(own, *other)).count();
    let far = Colour::WORDS.len() - 1 - near;
    Colour::WORDS.map(|(other, _)| match other {
        other if other == own => COLOUR[0],
        other if close(own, other) => COLOUR[1] / near as f64,
        _ => COLOUR[2] / far as f64,
    })
}

/// Chances of each colour being told of something with the colours `own`.
pub(super) fn chances_of_colours(own: &[Colour]) -> Option<[f64; Colour::WORDS.len()]> {
    let rows: Vec<_> = own.iter().map(|colour| told_of(*colour)).collect();
    (!rows.is_empty()).then(|| mean(&rows.iter().collect::<Vec<_>>()))
}

fn of_colours(part: SignKind, own: &[Colour], told: &[Colour], provenance: &str) -> Option<Reason> {
    let chances = chances_of_colours(own)?;
    let at = |colour: &Colour| Colour::WORDS.iter().position(|(known, _)| known == colour);
    let found: Vec<f64> = told.iter().filter_map(at).map(|at| chances[at]).collect();
    if found.is_empty() {
        return None;
    }
    // Several colours told are one look at one insect, not so many looks.
    let factor = Colour::WORDS.len() as f64 * found.iter().sum::<f64>() / found.len() as f64;
    let other = if told.iter().any(|colour| own.contains(colour)) { Vec::new() } else { told.to_vec() };
    let because = Because::Colours { part, other, own: own.to_vec() };
    Some(Reason { because, factor: Some(factor), provenance: provenance.to_owned() })
}

/// How far two taxa part by a sign, 0 not at all to 1 wholly: half the sum of the differences of the
/// chances of each answer. `None` where one of them is not known.
pub(super) fn parts(kind: SignKind, one: &Taxon, other: &Taxon) -> Option<f64> {
    fn apart(a: &[f64], b: &[f64]) -> f64 {
        0.5 * a.iter().zip(b).map(|(x, y)| (x - y).abs()).sum::<f64>()
    }
    match kind {
        SignKind::Tails => Some(apart(&chances_of_tails(one)?, &chances_of_tails(other)?)),
        SignKind::Wings => Some(apart(&chances_of_wings(one)?, &chances_of_wings(other)?)),
        SignKind::Body => Some(apart(&chances_of_colours(&one.looks.body)?, &chances_of_colours(&other.looks.body)?)),
        SignKind::WingColour => {
            Some(apart(&chances_of_colours(&one.looks.wings)?, &chances_of_colours(&other.looks.wings)?))
        }
        SignKind::Length => {
            let ((a, b), (c, d)) = (one.body_mm?, other.body_mm?);
            // Ratios of a fiftieth, over all lengths there are.
            let steps = 250;
            let step = (ANY_LENGTH_MM.1 / ANY_LENGTH_MM.0).ln() / f64::from(steps);
            let at = |k: i32| ANY_LENGTH_MM.0 * (f64::from(k) * step).exp();
            let sum: f64 = (0..=steps).map(|k| (density(a, b, at(k)) - density(c, d, at(k))).abs()).sum();
            Some((0.5 * step * sum).min(1.0))
        }
    }
}
