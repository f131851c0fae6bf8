//! What to look at next, to part the first two.

use super::Match;
use super::signs::{SignKind, colours_in_words, parts, tails_in_words, tails_of};
use crate::domain::{Seen, Taxon};

/// Parting from which a sign is worth a look.
const WORTH_A_LOOK: f64 = 0.35;
/// Odds of the second from which it is still in question.
const IN_QUESTION: f64 = 0.05;
/// Signs that may be looked for, the surest first among equals.
const KINDS: [SignKind; 5] = [SignKind::Tails, SignKind::Wings, SignKind::Length, SignKind::Body, SignKind::WingColour];

/// The language of what is said.
const LANGUAGE: &str = "en";

fn given(kind: SignKind, seen: &Seen) -> bool {
    match kind {
        SignKind::Length => seen.length_mm.is_some(),
        SignKind::Tails => seen.tails.is_some(),
        SignKind::Wings => seen.wings.is_some(),
        SignKind::Body => !seen.body.is_empty(),
        SignKind::WingColour => !seen.wing_colours.is_empty(),
    }
}

/// What to look at, most telling first.
pub(super) fn look_next(taxa: &[Match<'_>], none_of_these: f64, seen: &Seen) -> Vec<String> {
    let mut told = Vec::new();
    let leads = taxa.first().is_some_and(|first| first.odds >= none_of_these);
    if !leads {
        told.push(
            "Nothing on this reach's list fits well. Measure it, count its tails, take a picture, and report it as an \
             insect you cannot name: a keeper may know it."
                .to_owned(),
        );
    } else if let [first, second, ..] = taxa
        && second.odds >= IN_QUESTION
    {
        let mut open: Vec<(f64, SignKind)> = KINDS
            .into_iter()
            .filter(|kind| !given(*kind, seen))
            .filter_map(|kind| Some((parts(kind, first.taxon, second.taxon)?, kind)))
            .filter(|(apart, _)| *apart >= WORTH_A_LOOK)
            .collect();
        // Stable: among equals the surest stays first.
        open.sort_by(|a, b| b.0.total_cmp(&a.0));
        told.extend(open.into_iter().map(|(_, kind)| ask(kind, first.taxon, second.taxon)));
        if told.is_empty() {
            told.push(format!(
                "Nothing more that the tables hold parts {} from {}: take a picture and ask a keeper.",
                first.taxon.title(LANGUAGE),
                second.taxon.title(LANGUAGE)
            ));
        }
    }
    told.push("Look at several before you decide, and put them back: some are protected.".to_owned());
    told
}

fn ask(kind: SignKind, first: &Taxon, second: &Taxon) -> String {
    let each = |of: &dyn Fn(&Taxon) -> String| {
        format!("{}: {}; {}: {}", first.title(LANGUAGE), of(first), second.title(LANGUAGE), of(second))
    };
    let tails = |taxon: &Taxon| tails_of(taxon).map(|(tails, _)| tails_in_words(tails)).unwrap_or_default();
    let length = |taxon: &Taxon| taxon.body_mm.map(|(from, to)| format!("{from} to {to} mm")).unwrap_or_default();
    let held = |taxon: &Taxon| match taxon.order.as_deref() {
        Some("Ephemeroptera") => "upright like a sail".to_owned(),
        Some("Trichoptera") => "like a roof along the body".to_owned(),
        _ => "flat on the back or rolled round it".to_owned(),
    };
    match kind {
        SignKind::Tails => format!("Count the tails: {}.", each(&tails)),
        SignKind::Wings => format!("Look how the wings are held at rest: {}.", each(&held)),
        SignKind::Length => format!("Measure the body without the tails: {}.", each(&length)),
        SignKind::Body => {
            format!("Look at the colour of the body: {}.", each(&|taxon| colours_in_words(&taxon.looks.body)))
        }
        SignKind::WingColour => {
            format!("Look at the colour of the wings: {}.", each(&|taxon| colours_in_words(&taxon.looks.wings)))
        }
    }
}
