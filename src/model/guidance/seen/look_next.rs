//! What to look at next, to part the first two.

use super::signs::{SignKind, parts};
use super::{Look, Match};
use crate::domain::Seen;

/// Parting from which a sign is worth a look.
const WORTH_A_LOOK: f64 = 0.35;
/// Odds of the second from which it is still in question.
const IN_QUESTION: f64 = 0.05;
/// Signs that may be looked for, the surest first among equals.
const KINDS: [SignKind; 5] = [SignKind::Tails, SignKind::Wings, SignKind::Length, SignKind::Body, SignKind::WingColour];

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
pub(super) fn look_next(taxa: &[Match<'_>], none_of_these: f64, seen: &Seen) -> Vec<Look> {
    let mut told = Vec::new();
    let leads = taxa.first().is_some_and(|first| first.odds >= none_of_these);
    if !leads {
        told.push(Look::NothingFits);
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
        told.extend(open.into_iter().map(|(_, kind)| Look::At(kind)));
        if told.is_empty() {
            told.push(Look::NothingParts);
        }
    }
    told.push(Look::AtSeveral);
    told
}
