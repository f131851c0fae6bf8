//! Which stage and size: the cases of the trade, on the traits that come with the program.

use subimago::domain::guidance::Sign;
use subimago::domain::{Condition, Slug, Stage, Taxon, WaterType};
use subimago::ingest::seed_taxa::seed_taxa;
use subimago::model::guidance::{Advice, Candidate, ExpectedFlight, Hint, Moment, Window, advise};

const SPARSE: [f64; 4] = [0.0, 1.0, 0.0, 0.0];
const MODERATE: [f64; 4] = [0.0, 0.0, 1.0, 0.0];
const HEAVY: [f64; 4] = [0.0, 0.0, 0.0, 1.0];

fn seeded(slug: &str) -> Taxon {
    let known = seed_taxa().expect("sound tables");
    known.into_iter().find(|taxon| taxon.slug.as_str() == slug).unwrap_or_else(|| panic!("{slug}"))
}

fn window(since_middle_h: f64, spread_h: f64) -> Window {
    Window { since_middle_h, spread_h }
}

/// In the middle of its season, `hours` after the middle of its emergence, no flight near.
fn emerging(taxon: &Taxon, classes: [f64; 4], hours: f64) -> Candidate<'_> {
    Candidate { taxon, classes, completed: 0.5, emergence: Some(window(hours, 1.0)), flight: None }
}

/// In the middle of its flight, its emergence six hours ago.
fn flying(taxon: &Taxon, classes: [f64; 4]) -> Candidate<'_> {
    let flight = Some(ExpectedFlight { window: window(0.0, 0.75), chance: 1.0 - classes[0] });
    Candidate { flight, ..emerging(taxon, classes, 6.0) }
}

fn with(signs: &[Sign]) -> Moment {
    Moment { signs: signs.to_vec(), ..Moment::default() }
}

fn stage(advice: &Advice, stage: Stage) -> f64 {
    advice.stages.iter().find(|(known, _)| *known == stage).map_or(0.0, |(_, weight)| *weight)
}

fn fired(advice: &Advice, id: &str) -> bool {
    advice.rules.iter().any(|rule| rule.id == id)
}

fn hints(advice: &Advice, words: &str) -> bool {
    advice.check_next.iter().any(|hint| matches!(hint, Hint::OfRule(_, told) if told.contains(words)))
}

#[test]
fn baetis_returning_to_lay_asks_for_the_sunken_female() {
    for slug in ["baetis-tricaudatus", "baetis-rhodani"] {
        let baetis = seeded(slug);
        let advice = advise(&[flying(&baetis, MODERATE)], &Moment::default());
        assert_eq!(advice.imitations[0].0, "sunken female", "{:?}", advice.imitations);
        assert_eq!(advice.stages[0].0, Stage::Spinner);
        assert!(advice.rules.iter().any(|rule| rule.provenance.contains("Brittain and Sartori")));
    }
}

#[test]
fn isonychia_at_its_peak_asks_for_the_nymph_near_the_edge_and_no_dun() {
    let isonychia = seeded("isonychia-bicolor");
    let advice = advise(&[emerging(&isonychia, MODERATE, 0.0)], &Moment::default());
    assert_eq!(advice.imitations[0].0, "nymph fished near the edge");
    assert_eq!(advice.water, Some(WaterType::SlowMargin));
    assert!(advice.stages[0].1 > 0.8, "{:?}", advice.stages);
}

#[test]
fn whatever_crawls_out_asks_for_the_edge_and_never_for_a_dun() {
    let crawlers: Vec<Taxon> = seed_taxa()
        .expect("sound tables")
        .into_iter()
        .filter(|taxon| taxon.emergence_mode.is_some_and(|mode| mode.as_str() == "crawl-out"))
        .collect();
    assert!(crawlers.len() >= 10);
    for taxon in &crawlers {
        for hours in [-1.5, 0.0, 0.9] {
            let advice = advise(&[emerging(taxon, MODERATE, hours)], &Moment::default());
            assert_eq!(
                advice.stages.iter().find(|row| row.0 == Stage::Dun),
                None,
                "{}: {:?}",
                taxon.slug,
                advice.stages
            );
        }
        let advice = advise(&[emerging(taxon, MODERATE, 0.0)], &Moment::default());
        assert!(advice.imitations[0].0.ends_with("fished near the edge"), "{}: {:?}", taxon.slug, advice.imitations);
    }
}

#[test]
fn tricorythodes_of_a_heavy_morning_asks_for_the_spent_spinner_of_exact_size() {
    let trico = seeded("tricorythodes");
    // Emergence and flight of the same morning, both under way.
    let both = Candidate {
        emergence: Some(window(1.0, 1.2)),
        flight: Some(ExpectedFlight { window: window(0.0, 0.75), chance: 1.0 }),
        ..emerging(&trico, HEAVY, 0.0)
    };
    let advice = advise(&[both], &Moment::default());
    assert_eq!(advice.imitations[0].0, "spent spinner", "{:?}", advice.imitations);
    assert_eq!((advice.length_mm, advice.hooks), (trico.body_mm, trico.hooks), "the size of the insect, no less");
    assert!(fired(&advice, "heavy") && fired(&advice, "tiny"));
    let larger = Taxon { body_mm: Some((8.0, 10.0)), ..trico.clone() };
    let of_larger = advise(&[Candidate { taxon: &larger, ..both }], &Moment::default());
    assert!(stage(&of_larger, Stage::Spent) < stage(&advice, Stage::Spent), "for its smallness");
    let live = advise(&[emerging(&trico, HEAVY, 0.0)], &Moment::default());
    assert!(stage(&live, Stage::Spent) < 0.2, "not over a live emergence");
}

#[test]
fn epeorus_starting_asks_for_a_swung_soft_hackle() {
    let epeorus = seeded("epeorus-pleuralis");
    let advice = advise(&[emerging(&epeorus, MODERATE, -1.5)], &Moment::default());
    assert_eq!(advice.imitations[0].0, "soft-hackle wet, swung", "{:?}", advice.imitations);
    let peak = advise(&[emerging(&epeorus, MODERATE, 0.0)], &Moment::default());
    assert_eq!(peak.imitations[0].0, "soft-hackle wet, swung");
    assert_eq!(peak.imitations[1].0, "parachute dun");
}

#[test]
fn sparse_ephemerella_asks_for_dun_or_emerger_and_errs_small() {
    let ephemerella = seeded("ephemerella-subvaria");
    let sparse = advise(&[emerging(&ephemerella, SPARSE, 0.0)], &Moment::default());
    assert!([Stage::Dun, Stage::Emerger].contains(&sparse.stages[0].0), "{:?}", sparse.stages);
    assert!(hints(&sparse, "one size smaller"), "{:?}", sparse.check_next);
    assert_eq!((sparse.length_mm, sparse.hooks), (Some((9.0, 10.5)), Some((14, 14))));
    let heavy = advise(&[emerging(&ephemerella, HEAVY, 0.0)], &Moment::default());
    assert_eq!((heavy.length_mm, heavy.hooks), (Some((9.0, 12.0)), Some((12, 14))));
    assert!(heavy.stages[0].1 > sparse.stages[0].1 + 0.1, "stage matters more when many come");
    assert!(hints(&heavy, "second insect mixed in") && !hints(&sparse, "second insect mixed in"));
    assert!(heavy.rules.iter().any(|rule| rule.because.contains("both must be exact")));
}

#[test]
fn quiet_rises_in_empty_air_ask_for_spent_spinners_or_midges() {
    let (olive, midge) = (seeded("serratella-ignita"), seeded("chironomidae-river-and-lake-midges"));
    let flight = Some(ExpectedFlight { window: window(-4.0, 0.75), chance: 0.6 });
    let classes = [0.4, 0.3, 0.2, 0.1];
    let mayfly = Candidate { flight, ..emerging(&olive, classes, 0.5) };
    let alone = advise(&[mayfly], &with(&[Sign::QuietRises]));
    assert_eq!(alone.stages[0].0, Stage::Spent, "{:?}", alone.stages);
    assert_ne!(advise(&[mayfly], &Moment::default()).stages[0].0, Stage::Spent, "the sign says so, not the hour");
    let both = [mayfly, emerging(&midge, classes, 0.5)];
    let advice = advise(&both, &with(&[Sign::QuietRises]));
    let of_midge = advice.taxa.iter().find(|(slug, _)| *slug == midge.slug).map_or(0.0, |row| row.1);
    assert!(of_midge + stage(&advice, Stage::Spent) > 0.8, "{:?} {:?}", advice.taxa, advice.stages);
    let before = advise(&both, &Moment::default());
    assert_eq!(before.taxa[0].0, olive.slug);
    assert!(fired(&advice, "quiet-rises-midges") && !fired(&before, "quiet-rises-midges"));
}

#[test]
fn dark_wing_pads_raise_today_for_mayflies_and_not_for_caddis() {
    let (mayfly, caddis) = (seeded("ephemera-danica"), seeded("brachycentrus"));
    let both = [emerging(&mayfly, [0.7, 0.1, 0.1, 0.1], 0.0), emerging(&caddis, [0.7, 0.1, 0.1, 0.1], 0.0)];
    let (before, after) = (advise(&both, &Moment::default()), advise(&both, &with(&[Sign::DarkWingPads])));
    let of = |advice: &Advice| advice.taxa.iter().find(|(slug, _)| *slug == mayfly.slug).map_or(0.0, |row| row.1);
    assert!(of(&after) > of(&before) + 0.1, "{:?} {:?}", before.taxa, after.taxa);
    let winged = |advice: &Advice| stage(advice, Stage::Dun) + stage(advice, Stage::Emerger);
    assert!(winged(&after) > winged(&before), "{:?} {:?}", before.stages, after.stages);
}

#[test]
fn signs_move_the_stage_the_way_the_trade_says() {
    let danica = seeded("ephemera-danica");
    let peak = [emerging(&danica, MODERATE, 0.5)];
    let plain = advise(&peak, &Moment::default());
    let bubble = advise(&peak, &with(&[Sign::BubbleAfterRise]));
    assert!(
        stage(&bubble, Stage::Dun) > stage(&plain, Stage::Dun)
            && stage(&bubble, Stage::Nymph) < stage(&plain, Stage::Nymph)
    );
    let deep = advise(&peak, &with(&[Sign::DeepFlashes]));
    assert_eq!(deep.stages[0].0, Stage::Nymph, "{:?}", deep.stages);
    let ignored = advise(&[emerging(&danica, MODERATE, 1.5)], &with(&[Sign::DunsIgnored]));
    assert_eq!(advise(&[emerging(&danica, MODERATE, 1.5)], &Moment::default()).stages[0].0, Stage::Dun);
    assert_eq!(ignored.stages[0].0, Stage::Emerger, "{:?}", ignored.stages);
    assert!(hints(&ignored, "a smaller insect"));
    let refused = advise(&peak, &with(&[Sign::LateRefusals]));
    let ((from, to), (large, small)) = (danica.body_mm.expect("known"), danica.hooks.expect("known"));
    assert_eq!(refused.length_mm, Some((0.85 * from, 0.85 * to)));
    assert_eq!(refused.hooks, Some((large + 2, small + 2)));
}

#[test]
fn insects_that_overlap_stand_side_by_side_with_their_odds() {
    let (one, two) = (seeded("rhithrogena-semicolorata"), seeded("ephemera-danica"));
    let advice = advise(&[emerging(&one, MODERATE, 0.0), emerging(&two, MODERATE, 0.0)], &Moment::default());
    assert_eq!(advice.taxa.len(), 2);
    assert!((advice.taxa[0].1 - 0.5).abs() < 1e-9, "alike in numbers and hours");
    let both = |hint: &Hint| matches!(hint, Hint::TwoAbout([(_, one), (_, other)]) if (one - 0.5).abs() < 0.01 && (other - 0.5).abs() < 0.01);
    assert!(advice.check_next.iter().any(both), "{:?}", advice.check_next);
    let swung = advice.rules.iter().find(|rule| rule.id == "bottom-peak").expect("fired");
    assert_eq!(swung.about, [Slug::new("rhithrogena-semicolorata").expect("a slug")], "a rule of one insect names it");
    let fewer = advise(&[emerging(&one, SPARSE, 0.0), emerging(&two, HEAVY, 0.0)], &Moment::default());
    assert!(fewer.taxa[0].0 == two.slug && fewer.taxa[0].1 > 0.8, "{:?}", fewer.taxa);
}

#[test]
fn hours_decide_between_two_insects_and_between_stages() {
    let (noon, dusk) = (seeded("baetis-rhodani"), seeded("serratella-ignita"));
    let at = |hour: f64| {
        let both = [emerging(&noon, MODERATE, hour - 13.0), emerging(&dusk, MODERATE, hour - 20.0)];
        advise(&both, &Moment::default())
    };
    assert_eq!((at(13.0).taxa[0].0.clone(), at(20.0).taxa[0].0.clone()), (noon.slug.clone(), dusk.slug.clone()));
    let order: Vec<Stage> =
        [-3.0, 0.0, 1.6].map(|h| advise(&[emerging(&noon, MODERATE, h)], &Moment::default()).stages[0].0).to_vec();
    assert_eq!(order, [Stage::Nymph, Stage::Emerger, Stage::Dun]);
}

#[test]
fn pupae_rise_and_diving_caddis_drown() {
    let (tube, net) = (seeded("brachycentrus"), seeded("hydropsyche-cheumatopsyche"));
    let rising = advise(&[emerging(&tube, MODERATE, -1.5)], &Moment::default());
    assert_eq!(rising.imitations[0].0, "rising pupa");
    assert!(rising.stages.iter().all(|(stage, _)| ![Stage::Dun, Stage::Spinner, Stage::Spent].contains(stage)));
    assert_eq!(advise(&[flying(&net, MODERATE)], &Moment::default()).imitations[0].0, "sunken female");
    let either = advise(&[flying(&tube, MODERATE)], &Moment::default());
    let share = |name: &str| either.imitations.iter().find(|row| row.0 == name).map_or(0.0, |row| row.1);
    assert!((share("sunken female") - share("egg-laying adult")).abs() < 1e-9, "half of each");
}

#[test]
fn without_a_forecast_it_says_so() {
    let advice = advise(&[], &Moment::default());
    assert!(advice.taxa.is_empty() && advice.length_mm.is_none() && advice.hooks.is_none());
    assert_eq!(advice.stages[0].0, Stage::Nymph);
    assert!(fired(&advice, "no-forecast"));
}

#[test]
fn the_order_of_candidates_and_signs_does_not_matter() {
    let (one, two) = (seeded("baetis-rhodani"), seeded("brachycentrus"));
    let (a, b) = (emerging(&one, [0.2, 0.3, 0.3, 0.2], -0.5), emerging(&two, [0.1, 0.6, 0.2, 0.1], 1.0));
    let forth = advise(&[a, b], &with(&[Sign::DunsIgnored, Sign::LateRefusals]));
    let back = advise(&[b, a], &with(&[Sign::LateRefusals, Sign::DunsIgnored]));
    for ((s, x), (t, y)) in forth.stages.iter().zip(&back.stages) {
        assert!(s == t && (x - y).abs() < 1e-12);
    }
    assert_eq!(forth.taxa[0].0, back.taxa[0].0);
    let ids = |advice: &Advice| {
        let mut ids: Vec<&str> = advice.rules.iter().map(|rule| rule.id).collect();
        ids.sort_unstable();
        ids
    };
    assert_eq!(ids(&forth), ids(&back));
}

fn met(here: &[Condition], forecast: &[Condition]) -> Moment {
    Moment { here: here.to_vec(), forecast: forecast.to_vec(), ..Moment::default() }
}

#[test]
fn wind_seen_at_dusk_holds_the_flight_back_and_forecast_wind_is_told_without_counting_twice() {
    let danica = seeded("ephemera-danica");
    let candidate = flying(&danica, [0.4, 0.3, 0.2, 0.1]);
    let calm = advise(&[candidate], &Moment::default());
    let seen = advise(&[candidate], &met(&[Condition::Windy], &[]));
    let spinners = |advice: &Advice| stage(advice, Stage::Spinner) + stage(advice, Stage::Spent);
    assert!(spinners(&seen) < 0.8 * spinners(&calm), "{} and {}", spinners(&seen), spinners(&calm));
    assert!(fired(&seen, "wind-holds-flight") && hints(&seen, "lee"));
    let forecast = advise(&[candidate], &met(&[], &[Condition::Windy]));
    assert_eq!(forecast.stages, calm.stages, "the chance of the flight counts with it already");
    assert!(fired(&forecast, "wind-forecast-for-flight") && hints(&forecast, "lee"));
    let both = advise(&[candidate], &met(&[Condition::Windy], &[Condition::Windy]));
    assert!(!fired(&both, "wind-forecast-for-flight") && fired(&both, "wind-holds-flight"));
}

#[test]
fn only_wind_brings_duns_of_what_crawls_out_onto_the_water() {
    let isonychia = seeded("isonychia-bicolor");
    let candidate = emerging(&isonychia, MODERATE, 0.0);
    assert_eq!(stage(&advise(&[candidate], &Moment::default()), Stage::Dun), 0.0);
    let windy = advise(&[candidate], &met(&[], &[Condition::Windy]));
    assert!(stage(&windy, Stage::Dun) > 0.0 && windy.stages[0].0 == Stage::Nymph, "{:?}", windy.stages);
    assert!(fired(&windy, "wind-blows-duns-in"));
}

#[test]
fn cold_damp_days_keep_small_duns_on_the_water_and_hot_dry_ones_do_not() {
    let baetis = seeded("baetis-rhodani");
    let candidate = emerging(&baetis, MODERATE, 0.0);
    let plain = advise(&[candidate], &Moment::default());
    let odds = |advice: &Advice| stage(advice, Stage::Dun) / stage(advice, Stage::Emerger);
    let cold = advise(&[candidate], &met(&[], &[Condition::ColdDamp]));
    let hot = advise(&[candidate], &met(&[Condition::HotDry], &[]));
    // Factors of 1.5 (science, section G), before sharpening and mixing.
    assert!((odds(&cold) / odds(&plain) - 1.5).abs() < 0.1, "{}", odds(&cold) / odds(&plain));
    assert!((odds(&plain) / odds(&hot) - 1.5).abs() < 0.1, "{}", odds(&plain) / odds(&hot));
    assert!(fired(&cold, "cold-damp-duns-sit") && fired(&hot, "hot-dry-duns-leave"));
    // A large burrower is no small swimmer.
    let danica = seeded("ephemera-danica");
    assert!(!fired(
        &advise(&[emerging(&danica, MODERATE, 0.0)], &met(&[Condition::ColdDamp], &[])),
        "cold-damp-duns-sit"
    ));
}

#[test]
fn rising_water_says_first_to_leave_it_and_has_the_last_word_on_where_to_stand() {
    let ignita = seeded("serratella-ignita");
    let candidate = emerging(&ignita, MODERATE, 0.0);
    let plain = advise(&[candidate], &Moment::default());
    let rising = advise(&[candidate], &met(&[Condition::RisingWater], &[]));
    assert!(
        matches!(rising.check_next[0], Hint::OfRule("rising-water", _)) && rising.water == Some(WaterType::SlowMargin)
    );
    assert!(stage(&rising, Stage::Nymph) > 2.0 * stage(&plain, Stage::Nymph));
    let falling = advise(&[candidate], &met(&[Condition::FallingWater], &[]));
    assert_eq!(falling.water, Some(WaterType::Run));
    assert!(stage(&falling, Stage::Nymph) > stage(&plain, Stage::Nymph) && fired(&falling, "falling-water"));
}

#[test]
fn rain_and_sun_are_told_with_where_they_come_from() {
    let ignita = seeded("serratella-ignita");
    for (condition, id) in [(Condition::Rain, "rain-traps-duns"), (Condition::BrightSun, "bright-sun-deeper")] {
        let advice = advise(&[emerging(&ignita, MODERATE, 0.0)], &met(&[], &[condition]));
        let rule = advice.rules.iter().find(|rule| rule.id == id).unwrap_or_else(|| panic!("{id}"));
        assert_eq!(rule.provenance, "common practice, no source");
    }
}
