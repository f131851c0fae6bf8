//! Who publishes after a report: one at a time for each watershed, and what comes in meanwhile is published together.
//! A phone that sends twenty visits at once asks for one or two publications, not for twenty.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use crate::domain::Slug;

/// Taxa to publish; `None` stands for all of the watershed.
pub(super) type Taxa = Option<Vec<Slug>>;

/// Watersheds for which somebody publishes, each with what is to be published next, if anything.
#[derive(Debug, Clone, Default)]
pub(super) struct Turns(Arc<Mutex<HashMap<String, Option<Taxa>>>>);

impl Turns {
    /// The turn to publish `taxa` of `watershed`; `None` where somebody has it, who will publish them next.
    #[must_use]
    pub(super) fn begin(&self, watershed: &Slug, taxa: Taxa) -> Option<Turn> {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(next) = all.get_mut(&watershed.key()) {
            *next = Some(match next.take() {
                None => taxa,
                Some(before) => together(before, taxa),
            });
            return None;
        }
        all.insert(watershed.key(), None);
        Some(Turn { turns: self.clone(), watershed: watershed.key(), taxa: Some(taxa) })
    }
}

fn together(one: Taxa, other: Taxa) -> Taxa {
    let mut both = one?;
    both.extend(other?);
    both.sort_by_key(Slug::key);
    both.dedup();
    Some(both)
}

/// The right to publish for a watershed; given back when dropped.
#[derive(Debug)]
pub(super) struct Turn {
    turns: Turns,
    watershed: String,
    /// What is to be published first.
    taxa: Option<Taxa>,
}

impl Turn {
    /// What to publish now; `None` when nothing waits, which ends the turn.
    pub(super) fn next(&mut self) -> Option<Taxa> {
        if let Some(first) = self.taxa.take() {
            return Some(first);
        }
        let mut all = self.turns.0.lock().unwrap_or_else(PoisonError::into_inner);
        let next = all.get_mut(&self.watershed)?.take();
        if next.is_none() {
            all.remove(&self.watershed);
            // Whoever begins from now on has a turn of their own, which dropping this one must not end.
            self.watershed.clear();
        }
        next
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        if !self.watershed.is_empty() {
            self.turns.0.lock().unwrap_or_else(PoisonError::into_inner).remove(&self.watershed);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn slug(text: &str) -> Slug {
        Slug::new(text).unwrap()
    }

    #[test]
    fn what_comes_in_meanwhile_is_published_together() {
        let (turns, ostrey) = (Turns::default(), slug("ostrey"));
        let some = |taxa: &[&str]| Some(taxa.iter().map(|taxon| slug(taxon)).collect::<Vec<_>>());
        let mut turn = turns.begin(&ostrey, some(&["danica"])).unwrap();
        assert_eq!(turn.next(), Some(some(&["danica"])));
        assert!(turns.begin(&slug("Ostrey"), some(&["rhodani"])).is_none(), "it has its publisher");
        assert!(turns.begin(&ostrey, some(&["caenis", "rhodani"])).is_none());
        assert!(turns.begin(&slug("linnet"), None).is_some(), "another water has its own");
        assert_eq!(turn.next(), Some(some(&["caenis", "rhodani"])));
        assert!(turns.begin(&ostrey, some(&["danica"])).is_none());
        assert!(turns.begin(&ostrey, None).is_none());
        assert_eq!(turn.next(), Some(None), "all is more than one");
        assert!(turns.begin(&ostrey, None).is_none());
        assert!(turns.begin(&ostrey, some(&["danica"])).is_none());
        assert_eq!(turn.next(), Some(None), "in either order");
        assert_eq!(turn.next(), None);
        // The turn is over: the next report has one of its own, whatever becomes of the old one.
        let mut later = turns.begin(&ostrey, None).unwrap();
        drop(turn);
        assert!(turns.begin(&ostrey, None).is_none());
        assert_eq!((later.next(), later.next(), later.next()), (Some(None), Some(None), None));
    }

    #[test]
    fn a_turn_that_is_cut_off_is_given_back() {
        let (turns, ostrey) = (Turns::default(), slug("ostrey"));
        drop(turns.begin(&ostrey, None).unwrap());
        assert!(turns.begin(&ostrey, None).is_some());
    }
}
