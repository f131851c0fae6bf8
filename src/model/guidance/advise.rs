//! From cases and rules to what is said.

use super::cases::{Case, cases, raised};
use super::imitations::names;
use super::rule::{Kind, Rule, Size};
use super::rules::rules;
use super::{Candidate, Moment};
use crate::domain::{Slug, Stage, Taxon, WaterType};

/// Weights below this are left out of what is said; the others are scaled to sum 1.
const LEAST_WEIGHT: f64 = 0.005;
/// Share of the cases in which a rule must fire to be told.
const TOLD_FROM: f64 = 0.05;
/// Share from which a second insect is named beside the first.
const SECOND_FROM: f64 = 0.2;
/// Hints told, the most telling first.
const MOST_HINTS: usize = 6;
/// Body length for one hook size less, as a share (common practice, no source).
const ONE_SIZE: f64 = 0.85;
/// Hook numbers go up by two from one size to the next smaller.
const HOOK_STEP: u8 = 2;
/// Smallest hook spoken of.
const SMALLEST_HOOK: u8 = 32;

/// What to put on, and why. Weights of each list sum to 1, largest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Advice {
    /// Insects; empty where none is known to be about.
    pub taxa: Vec<(Slug, f64)>,
    /// Life stages.
    pub stages: Vec<(Stage, f64)>,
    /// Imitations by generic names.
    pub imitations: Vec<(&'static str, f64)>,
    /// Body length of the imitation, smallest and largest, mm.
    pub length_mm: Option<(f64, f64)>,
    /// Hook sizes, larger hook (smaller number) first.
    pub hooks: Option<(u8, u8)>,
    /// Kind of water to stand by; `None` where nothing speaks for one.
    pub water: Option<WaterType>,
    /// What to look at next, most telling first.
    pub check_next: Vec<Hint>,
    /// The rules that fired in a twentieth of the weight or more.
    pub rules: Vec<Fired>,
}

/// What to look at next.
#[derive(Debug, Clone, PartialEq)]
pub enum Hint {
    /// Two insects may be about, each with its share of the weight.
    TwoAbout([(Slug, f64); 2]),
    /// What the rule of that name tells to look at, in words.
    OfRule(&'static str, &'static str),
}

/// A rule that fired.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fired {
    /// Its short name.
    pub id: &'static str,
    /// The insects it spoke of, where it did not speak of all.
    pub about: Vec<Slug>,
    /// Why, in words.
    pub because: &'static str,
    /// Where it comes from.
    pub provenance: &'static str,
}

/// A case with what the rules made of it.
struct Weighed<'a> {
    case: Case<'a>,
    fired: Vec<&'static Rule>,
    stages: Vec<(Stage, f64)>,
}

/// Guidance for `candidates` at `moment`. The same input gives the same answer.
#[must_use]
pub fn advise(candidates: &[Candidate<'_>], moment: &Moment) -> Advice {
    let table: Vec<&'static Rule> = rules().collect();
    advise_by(&table, candidates, moment)
}

fn advise_by(table: &[&'static Rule], candidates: &[Candidate<'_>], moment: &Moment) -> Advice {
    let raised: Vec<Candidate<'_>> = candidates.iter().map(|one| raised(one, table, moment)).collect();
    let mut weighed: Vec<Weighed<'_>> = cases(&raised).into_iter().map(|case| weigh(case, table, moment)).collect();
    let sum: f64 = weighed.iter().map(|one| one.case.weight).sum();
    for one in &mut weighed {
        one.case.weight /= sum;
    }

    let mut by_taxon: Vec<(usize, f64)> = Vec::new();
    let mut by_stage: Vec<(Stage, f64)> = Vec::new();
    let mut by_name: Vec<(&'static str, f64)> = Vec::new();
    for Weighed { case, stages, .. } in &weighed {
        if let Some(one) = case.candidate {
            // Broods of one taxon are one insect to a fish.
            let first = raised.iter().position(|other| other.taxon.slug == one.taxon.slug);
            add(&mut by_taxon, first.unwrap_or(case.index), case.weight);
        }
        for (stage, share) in stages {
            add(&mut by_stage, *stage, case.weight * share);
            for (name, part) in names(*stage, case, moment) {
                add(&mut by_name, *name, case.weight * share * part);
            }
        }
    }
    let taxa = told(by_taxon);
    let first: Option<&Taxon> = taxa.first().map(|(index, _)| raised[*index].taxon);
    let told_taxa: Vec<(&Taxon, f64)> = taxa.iter().map(|(index, weight)| (raised[*index].taxon, *weight)).collect();
    let (length_mm, hooks) = first.map_or((None, None), |taxon| size(taxon, table, &weighed));
    Advice {
        stages: told(by_stage),
        imitations: told(by_name),
        length_mm,
        hooks,
        water: water(&weighed),
        check_next: check_next(&told_taxa, table, &weighed),
        rules: fired(&told_taxa, table, &weighed),
        taxa: told_taxa.into_iter().map(|(taxon, weight)| (taxon.slug.clone(), weight)).collect(),
    }
}

fn weigh<'a>(mut case: Case<'a>, table: &[&'static Rule], moment: &Moment) -> Weighed<'a> {
    let fired: Vec<&'static Rule> = table.iter().copied().filter(|rule| rule.fires(&case, moment)).collect();
    case.weight *= fired.iter().map(|rule| rule.case).product::<f64>();
    let kind = case.candidate.map_or(Kind::Mayfly, |candidate| Kind::of(candidate.taxon));
    let sharpen: f64 = fired.iter().map(|rule| rule.sharpen).product();
    let mut stages: Vec<(Stage, f64)> = kind
        .stages()
        .iter()
        .map(|stage| {
            let effects = fired.iter().flat_map(|rule| rule.stages).filter(|(of, _)| of == stage);
            (*stage, (sharpen * effects.map(|(_, factor)| factor.ln()).sum::<f64>()).exp())
        })
        .collect();
    let sum: f64 = stages.iter().map(|(_, weight)| weight).sum();
    for (_, weight) in &mut stages {
        *weight /= sum;
    }
    Weighed { case, fired, stages }
}

fn add<K: PartialEq>(list: &mut Vec<(K, f64)>, key: K, weight: f64) {
    match list.iter_mut().find(|(known, _)| *known == key) {
        Some((_, sum)) => *sum += weight,
        None => list.push((key, weight)),
    }
}

/// Largest first, without what is too small to tell, summing to 1.
fn told<K>(mut list: Vec<(K, f64)>) -> Vec<(K, f64)> {
    let whole: f64 = list.iter().map(|(_, weight)| weight).sum();
    list.retain(|(_, weight)| *weight >= LEAST_WEIGHT * whole);
    let sum: f64 = list.iter().map(|(_, weight)| weight).sum();
    for (_, weight) in &mut list {
        *weight /= sum;
    }
    // Stable: equal weights keep the order in which they were met.
    list.sort_by(|a, b| b.1.total_cmp(&a.1));
    list
}

/// Share of the weight of `weighed` in which `rule` fired.
fn share_of(rule: &Rule, weighed: &[&Weighed<'_>]) -> f64 {
    let whole: f64 = weighed.iter().map(|one| one.case.weight).sum();
    let fired = weighed.iter().filter(|one| one.fired.iter().any(|known| known.id == rule.id));
    fired.map(|one| one.case.weight).sum::<f64>() / whole
}

/// Shortest and longest body, mm.
type Millimetres = (f64, f64);
/// Largest and smallest hook.
type Hooks = (u8, u8);

/// Length and hooks of the likeliest insect, as the rules that hold for more than half of it say.
fn size(taxon: &Taxon, table: &[&'static Rule], weighed: &[Weighed<'_>]) -> (Option<Millimetres>, Option<Hooks>) {
    let its = |one: &&Weighed<'_>| one.case.candidate.is_some_and(|known| known.taxon.slug == taxon.slug);
    let its: Vec<&Weighed<'_>> = weighed.iter().filter(its).collect();
    let sizes = table.iter().filter(|rule| rule.size > Size::AsIs && share_of(rule, &its) > 0.5).map(|rule| rule.size);
    match sizes.max().unwrap_or(Size::AsIs) {
        Size::AsIs => (taxon.body_mm, taxon.hooks),
        Size::SmallHalf => (
            taxon.body_mm.map(|(small, large)| (small, 0.5 * (small + large))),
            taxon.hooks.map(|(large, small)| (even(large + (small - large.min(small)) / 2).min(small), small)),
        ),
        Size::OneSmaller => (
            taxon.body_mm.map(|(small, large)| (ONE_SIZE * small, ONE_SIZE * large)),
            taxon.hooks.map(|(large, small)| {
                let smaller = |hook: u8| hook.saturating_add(HOOK_STEP).min(SMALLEST_HOOK.max(hook));
                (smaller(large), smaller(small))
            }),
        ),
    }
}

/// Hooks are even numbers: an odd one becomes the next smaller hook.
fn even(hook: u8) -> u8 {
    hook + hook % HOOK_STEP
}

/// The water that most of the weight speaks for; in each case the last rule that names one is heard.
fn water(weighed: &[Weighed<'_>]) -> Option<WaterType> {
    let mut votes: Vec<(WaterType, f64)> = Vec::new();
    for one in weighed {
        if let Some(water) = one.fired.iter().rev().find_map(|rule| rule.stand) {
            add(&mut votes, water, one.case.weight);
        }
    }
    told(votes).first().map(|(water, _)| *water)
}

/// Rules told, by the share of the weight in which they fired.
fn by_share(table: &[&'static Rule], weighed: &[Weighed<'_>]) -> Vec<&'static Rule> {
    let all: Vec<&Weighed<'_>> = weighed.iter().collect();
    let mut rules: Vec<(&'static Rule, f64)> =
        table.iter().map(|rule| (*rule, share_of(rule, &all))).filter(|(_, share)| *share >= TOLD_FROM).collect();
    rules.sort_by(|a, b| b.1.total_cmp(&a.1));
    rules.into_iter().map(|(rule, _)| rule).collect()
}

fn check_next(taxa: &[(&Taxon, f64)], table: &[&'static Rule], weighed: &[Weighed<'_>]) -> Vec<Hint> {
    let rules = by_share(table, weighed);
    let (urgent, others): (Vec<&'static Rule>, Vec<&'static Rule>) = rules.into_iter().partition(|rule| rule.urgent);
    let of_rule = |rule: &&'static Rule| Some(Hint::OfRule(rule.id, rule.check?));
    let mut hints: Vec<Hint> = urgent.iter().filter_map(of_rule).collect();
    if let [first, second, ..] = taxa
        && second.1 >= SECOND_FROM
    {
        hints.push(Hint::TwoAbout([first, second].map(|(taxon, weight)| (taxon.slug.clone(), *weight))));
    }
    hints.extend(others.iter().filter_map(of_rule));
    hints.truncate(MOST_HINTS);
    hints
}

fn fired(taxa: &[(&Taxon, f64)], table: &[&'static Rule], weighed: &[Weighed<'_>]) -> Vec<Fired> {
    by_share(table, weighed)
        .into_iter()
        .map(|rule| {
            let spoke_of = |taxon: &Taxon| {
                weighed.iter().any(|one| {
                    one.case.candidate.is_some_and(|known| known.taxon.slug == taxon.slug)
                        && one.case.weight >= LEAST_WEIGHT
                        && one.fired.iter().any(|known| known.id == rule.id)
                })
            };
            let mut about: Vec<Slug> =
                taxa.iter().filter(|(taxon, _)| spoke_of(taxon)).map(|(taxon, _)| taxon.slug.clone()).collect();
            if about.len() == taxa.len() {
                about.clear();
            }
            Fired { id: rule.id, about, because: rule.because, provenance: rule.provenance }
        })
        .collect()
}

#[cfg(test)]
mod tests;
