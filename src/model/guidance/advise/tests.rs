//! The table itself: sound rows, each of which can fire and changes the answer.

use super::*;
use crate::domain::taxon::EmergenceMode;
use crate::domain::{AbundanceClass, Condition, Sign};
use crate::model::guidance::rule::{Laying, MEMORY, PRACTICE, Phase, When};
use crate::model::guidance::{ExpectedFlight, Window};

fn taxon(order: &str, mode: EmergenceMode, laying: &str, habit: &str, body_mm: (f64, f64)) -> Taxon {
    let slug = format!("{order}-{}-{laying}-{habit}-{}", mode.as_str(), body_mm.1);
    Taxon {
        order: Some(order.to_owned()),
        emergence_mode: Some(mode),
        oviposition_mode: Some(laying.to_owned()),
        nymph_habit: Some(habit.to_owned()),
        body_mm: Some(body_mm),
        hooks: Some((10, 14)),
        ..Taxon::bare(Slug::new(&slug).unwrap(), slug, "species")
    }
}

fn many_taxa() -> Vec<Taxon> {
    let mut all = Vec::new();
    for order in ["Ephemeroptera", "Plecoptera", "Trichoptera", "Diptera"] {
        for (mode, _) in EmergenceMode::WORDS {
            for laying in ["surface_dip", "dive", "surface_or_dive", "abdomen_dip_from_stone", "terrestrial_or_edge"] {
                for habit in ["swimmer", "clinger", "burrower"] {
                    all.push(taxon(order, mode, laying, habit, (3.0, 5.0)));
                }
            }
        }
    }
    all
}

#[test]
fn every_row_is_whole_and_named_once() {
    let mut ids: Vec<&str> = rules().map(|rule| rule.id).collect();
    ids.sort_unstable();
    assert!(ids.windows(2).all(|pair| pair[0] < pair[1]), "{ids:?}");
    for rule in rules() {
        assert!(!rule.because.is_empty() && rule.because.ends_with('.'), "{}", rule.id);
        let sourced = [MEMORY, PRACTICE].contains(&rule.provenance) || rule.provenance.contains("Brittain and Sartori");
        assert!(sourced, "{}: {}", rule.id, rule.provenance);
        assert!(rule.stages.iter().all(|(_, factor)| *factor > 0.0 && factor.is_finite()), "{}", rule.id);
        assert!(rule.case > 0.0 && rule.odds > 0.0 && rule.sharpen > 0.0, "{}", rule.id);
        let mut stages: Vec<Stage> = rule.stages.iter().map(|(stage, _)| *stage).collect();
        stages.sort_unstable();
        assert!(stages.windows(2).all(|pair| pair[0] < pair[1]), "{} names a stage twice", rule.id);
    }
}

/// Whether `rule` can fire at `moment` at all, whatever the insect.
fn allows(rule: &Rule, moment: &Moment) -> bool {
    let nobody = Case { candidate: None, index: 0, phase: Phase::Quiet, class: AbundanceClass::None, weight: 1.0 };
    let of_moment = |when: &&When| {
        matches!(when, When::Water(_) | When::Dark | When::Sign(_) | When::Met(_) | When::Here(_) | When::Forecast(_))
    };
    rule.when.iter().filter(of_moment).all(|when| when.holds(&nobody, moment))
}

#[test]
fn every_row_fires_somewhere_and_without_it_the_answer_differs() {
    let taxa = many_taxa();
    let moments: Vec<Moment> = WaterType::WORDS
        .iter()
        .map(|(water, _)| Moment { water: Some(*water), ..Moment::default() })
        .chain(Sign::WORDS.iter().map(|(sign, _)| Moment { signs: vec![*sign], ..Moment::default() }))
        .chain(Condition::WORDS.iter().flat_map(|(one, _)| {
            let here = Moment { here: vec![*one], water: Some(WaterType::StillWater), ..Moment::default() };
            [here, Moment { forecast: vec![*one], ..Moment::default() }]
        }))
        .chain([Moment { dark: true, ..Moment::default() }])
        .collect();
    let table: Vec<&'static Rule> = rules().collect();
    'rules: for rule in rules() {
        let without: Vec<&'static Rule> = table.iter().copied().filter(|known| known.id != rule.id).collect();
        for moment in moments.iter().filter(|moment| allows(rule, moment)) {
            if advise_by(&table, &[], moment) != advise_by(&without, &[], moment) {
                continue 'rules;
            }
            for taxon in &taxa {
                for (hours, completed) in [(-9.0, 0.5), (-4.0, 0.05), (-1.5, 0.5), (0.0, 0.95), (1.5, 0.5), (6.0, 0.5)]
                {
                    let candidate = Candidate {
                        taxon,
                        classes: [0.4, 0.2, 0.2, 0.2],
                        completed,
                        emergence: Some(Window { since_middle_h: hours, spread_h: 1.0 }),
                        flight: Some(ExpectedFlight {
                            window: Window { since_middle_h: hours - 6.0, spread_h: 1.0 },
                            chance: 0.8,
                        }),
                    };
                    let (with, without) =
                        (advise_by(&table, &[candidate], moment), advise_by(&without, &[candidate], moment));
                    let told = |advice: &Advice| (advice.stages.clone(), advice.length_mm, advice.water);
                    // Some are a hint and change no number.
                    let hint = rule.stages.is_empty()
                        && (rule.sharpen, rule.case, rule.odds) == (1.0, 1.0, 1.0)
                        && rule.size == Size::AsIs
                        && rule.stand.is_none();
                    let same = told(&with) == told(&without) && (!hint || with == without);
                    // What shrinks its own case may leave too little of it to tell.
                    if !same && (rule.case < 1.0 || with.rules.iter().any(|fired| fired.id == rule.id)) {
                        continue 'rules;
                    }
                }
            }
        }
        panic!("{} never changes an answer that tells it", rule.id);
    }
}

#[test]
fn weights_sum_to_one_largest_first_whatever_comes() {
    let taxa = many_taxa();
    for (k, first) in taxa.iter().enumerate() {
        let second = &taxa[(7 * k + 3) % taxa.len()];
        let chance = k as f64 / taxa.len() as f64;
        let of = |taxon, hours, any: f64| Candidate {
            taxon,
            classes: [1.0 - any, 0.5 * any, 0.3 * any, 0.2 * any],
            completed: chance,
            emergence: (k % 5 != 0).then_some(Window { since_middle_h: hours, spread_h: 0.1 + chance }),
            flight: None,
        };
        let signs = Sign::WORDS.iter().enumerate().filter(|(i, _)| (k >> i) & 1 == 1).map(|(_, (sign, _))| *sign);
        let here = Condition::WORDS.iter().enumerate().filter(|(i, _)| (k >> i) & 2 == 2).map(|(_, (one, _))| *one);
        let moment = Moment { dark: k % 2 == 0, signs: signs.collect(), here: here.collect(), ..Moment::default() };
        let advice = advise(&[of(first, -12.0 + 24.0 * chance, chance), of(second, 1.0, 0.0)], &moment);
        for weights in [
            advice.taxa.iter().map(|row| row.1).collect::<Vec<f64>>(),
            advice.stages.iter().map(|row| row.1).collect(),
            advice.imitations.iter().map(|row| row.1).collect(),
        ] {
            assert!((weights.iter().sum::<f64>() - 1.0).abs() < 1e-9, "{weights:?}");
            assert!(weights.iter().all(|weight| *weight > 0.0) && weights.is_sorted_by(|a, b| a >= b), "{weights:?}");
        }
        assert!(!advice.rules.is_empty());
    }
}

#[test]
fn dark_wing_pads_multiply_the_odds_of_today_by_two_and_a_half() {
    let one = taxon("Ephemeroptera", EmergenceMode::Surface, "dive", "swimmer", (4.0, 8.0));
    let candidate =
        Candidate { taxon: &one, classes: [0.6, 0.2, 0.15, 0.05], completed: 0.3, emergence: None, flight: None };
    let table: Vec<&'static Rule> = rules().collect();
    let seen = Moment { signs: vec![Sign::DarkWingPads], ..Moment::default() };
    let [none, sparse, moderate, heavy] = raised(&candidate, &table, &seen).classes;
    assert!((((1.0 - none) / none) / (0.4 / 0.6) - 2.5).abs() < 1e-12);
    assert!((sparse + moderate + heavy + none - 1.0).abs() < 1e-12);
    assert!((sparse / moderate - 0.2 / 0.15).abs() < 1e-12 && (heavy / moderate - 0.05 / 0.15).abs() < 1e-12);
    let plain = raised(&candidate, &table, &Moment::default()).classes;
    assert!(plain.iter().zip(candidate.classes).all(|(a, b)| (a - b).abs() < 1e-12));
}

#[test]
fn traits_in_words_are_read() {
    use Laying::{Dive, Edge, Either, Stone, Surface, Unknown};
    let of = |laying: &str| Laying::of(&taxon("Ephemeroptera", EmergenceMode::Surface, laying, "", (1.0, 2.0)));
    let read: Vec<Laying> =
        ["surface_dip", "surface_mass", "dip", "dive", "surface_or_dive", "abdomen_dip_from_stone", "rock", "edge", ""]
            .map(of)
            .to_vec();
    assert_eq!(read, [Surface, Surface, Surface, Dive, Either, Stone, Stone, Edge, Unknown]);
    let mode = |order: Option<&str>, mode| {
        let taxon = Taxon {
            order: order.map(str::to_owned),
            emergence_mode: mode,
            ..Taxon::bare(Slug::new("x").unwrap(), "X", "genus")
        };
        (Kind::of(&taxon), Kind::of(&taxon).mode(&taxon))
    };
    assert_eq!(mode(Some("Diptera"), Some(EmergenceMode::Surface)), (Kind::Midge, EmergenceMode::PupalAscent));
    assert_eq!(mode(Some("Trichoptera"), Some(EmergenceMode::Surface)), (Kind::Caddis, EmergenceMode::PupalAscent));
    assert_eq!(mode(Some("Trichoptera"), Some(EmergenceMode::CrawlOut)), (Kind::Caddis, EmergenceMode::CrawlOut));
    assert_eq!(mode(Some("Plecoptera"), None), (Kind::Stonefly, EmergenceMode::CrawlOut));
    assert_eq!(mode(None, Some(EmergenceMode::PupalAscent)), (Kind::Caddis, EmergenceMode::PupalAscent));
    assert_eq!(mode(None, None), (Kind::Mayfly, EmergenceMode::Surface));
}

#[test]
fn that_nothing_comes_has_the_chance_that_no_insect_does() {
    let one = taxon("Ephemeroptera", EmergenceMode::Surface, "dive", "swimmer", (4.0, 8.0));
    let two = taxon("Trichoptera", EmergenceMode::PupalAscent, "dive", "swimmer", (4.0, 8.0));
    let of = |taxon, none: f64| Candidate {
        taxon,
        classes: [none, 1.0 - none, 0.0, 0.0],
        completed: 0.5,
        emergence: Some(Window { since_middle_h: 0.0, spread_h: 1.0 }),
        flight: None,
    };
    let both = [of(&one, 0.3), of(&two, 0.8)];
    let all = cases(&both);
    let quiet: f64 = all.iter().filter(|case| case.phase == Phase::Quiet).map(|case| case.weight).sum();
    assert!((quiet - 0.24).abs() < 1e-12, "{quiet}");
    let active =
        |index| all.iter().filter(move |c| c.index == index && c.phase == Phase::Peak).map(|c| c.weight).sum::<f64>();
    assert!((active(0) / active(1) - 3.5).abs() < 1e-12, "by the numbers expected");
    assert!(all.iter().all(|case| case.class != AbundanceClass::Heavy));
}
