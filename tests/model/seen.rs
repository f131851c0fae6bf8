//! "What did I just see?" on the traits that come with the program, against published facts, and for any traits.

use proptest::prelude::*;
use subimago::domain::{Colour, Looks, Seen, Slug, Taxon, WingsHeld};
use subimago::ingest::seed_taxa::seed_taxa;
use subimago::model::guidance::seen::{Because, Look, Ranking, SignKind, rank};
use subimago::model::guidance::{Candidate, ExpectedFlight, Window};

/// The twelve of the demo's river, a usual list.
const RIVER: [&str; 12] = [
    "baetis-rhodani",
    "rhithrogena-semicolorata",
    "ephemera-danica",
    "serratella-ignita",
    "heptagenia-sulphurea",
    "caenis",
    "brachycentrus",
    "hydropsyche-cheumatopsyche",
    "sericostoma-personatum",
    "limnephilidae-late-summer-and-autumn",
    "isoperla-perlodidae-small-yellow",
    "leuctra",
];

fn seeded(slugs: &[&str]) -> Vec<Taxon> {
    let known = seed_taxa().expect("sound tables");
    slugs.iter().map(|slug| known.iter().find(|t| t.slug.as_str() == *slug).expect("in the table").clone()).collect()
}

/// In the middle of its hours with these chances of none, sparse, moderate, heavy.
fn about(taxon: &Taxon, classes: [f64; 4]) -> Candidate<'_> {
    let window = Window { since_middle_h: 0.0, spread_h: 1.0 };
    Candidate { taxon, classes, completed: 0.5, emergence: Some(window), flight: None }
}

/// As likely as the others, so that only the signs speak.
fn alike(taxa: &[Taxon]) -> Vec<Candidate<'_>> {
    taxa.iter().map(|taxon| about(taxon, [0.5, 0.3, 0.15, 0.05])).collect()
}

fn order<'a>(ranking: &Ranking<'a>) -> Vec<&'a str> {
    ranking.taxa.iter().map(|one| one.taxon.slug.as_str()).collect()
}

fn place(ranking: &Ranking<'_>, slug: &Slug) -> usize {
    ranking.taxa.iter().position(|one| one.taxon.slug == *slug).expect("every resident is ranked")
}

#[test]
fn what_is_published_of_an_insect_finds_it() {
    use Colour::{Black, Brown, Clear, Cream, Grey, Olive, Rust, Yellow};
    use WingsHeld::{Flat, Roof, Spread, Upright};
    let seen = |length_mm: f64, tails: u8, wings: WingsHeld, body: Colour, wing: Colour| Seen {
        length_mm: Some(length_mm),
        tails: Some(tails),
        wings: Some(wings),
        body: vec![body],
        wing_colours: vec![wing],
    };
    // Descriptions of winged insects as any handbook of river insects gives them (from memory): order by tails and
    // wings, family by tails, and the sizes and colours of the trait table.
    let table = [
        (seen(8.0, 2, Upright, Olive, Grey), "baetis-rhodani"),
        (seen(20.0, 3, Upright, Cream, Yellow), "ephemera-danica"),
        (seen(8.0, 3, Upright, Olive, Grey), "serratella-ignita"),
        (seen(8.0, 3, Spread, Rust, Clear), "serratella-ignita"),
        (seen(11.0, 2, Upright, Yellow, Yellow), "heptagenia-sulphurea"),
        (seen(3.5, 3, Upright, Cream, Clear), "caenis"),
        (seen(10.0, 2, Flat, Yellow, Yellow), "isoperla-perlodidae-small-yellow"),
        (seen(7.0, 0, Flat, Brown, Brown), "leuctra"),
        (seen(18.0, 0, Roof, Brown, Brown), "limnephilidae-late-summer-and-autumn"),
        (seen(13.0, 0, Roof, Black, Brown), "sericostoma-personatum"),
    ];
    let taxa = seeded(&RIVER);
    let residents: Vec<&Taxon> = taxa.iter().collect();
    for (seen, expected) in &table {
        let ranking = rank(&residents, &alike(&taxa), seen);
        assert_eq!(
            order(&ranking)[0],
            *expected,
            "{seen:?}: {:?}",
            ranking.taxa.iter().map(|t| (&t.taxon.slug, t.odds)).collect::<Vec<_>>()
        );
        assert!(ranking.taxa[0].odds > 0.4 && ranking.none_of_these < 0.05, "{expected}");
        assert!(ranking.taxa[0].speaks_for.iter().any(|reason| reason.factor.is_some_and(|f| f > 2.0)), "{expected}");
    }
}

#[test]
fn one_sign_alone_parts_the_orders() {
    let taxa = seeded(&RIVER);
    let residents: Vec<&Taxon> = taxa.iter().collect();
    let best = |seen: Seen| rank(&residents, &alike(&taxa), &seen).taxa[0].taxon.order.clone().expect("an order");
    let wings = |held| Seen { wings: Some(held), ..Seen::default() };
    assert_eq!(best(wings(WingsHeld::Upright)), "Ephemeroptera");
    assert_eq!(best(wings(WingsHeld::Roof)), "Trichoptera");
    assert_eq!(best(wings(WingsHeld::Flat)), "Plecoptera");
    assert_eq!(best(Seen { tails: Some(3), ..Seen::default() }), "Ephemeroptera");
    assert_eq!(best(Seen { tails: Some(0), ..Seen::default() }), "Trichoptera");
}

#[test]
fn nothing_seen_leaves_the_order_of_the_forecast() {
    let taxa = seeded(&RIVER[..4]);
    let residents: Vec<&Taxon> = taxa.iter().collect();
    let chances = [0.2, 0.9, 0.5, 0.0];
    let mut candidates: Vec<Candidate<'_>> =
        taxa.iter().zip(chances).map(|(taxon, any)| about(taxon, [1.0 - any, any, 0.0, 0.0])).collect();
    let ranking = rank(&residents, &candidates, &Seen::default());
    assert_eq!(order(&ranking), [RIVER[1], RIVER[2], RIVER[0], RIVER[3]]);
    assert!(
        ranking.taxa.iter().all(|one| one.speaks_for.iter().chain(&one.speaks_against).all(|r| r.factor.is_none()))
    );
    // The likeliest of the day is six hours from its own hour, and the next is heavy where it comes.
    candidates[1].emergence = Some(Window { since_middle_h: 6.0, spread_h: 1.0 });
    assert_eq!(order(&rank(&residents, &candidates, &Seen::default()))[0], RIVER[2]);
    // Its flight brings it back.
    candidates[1].flight = Some(ExpectedFlight { window: Window { since_middle_h: 0.0, spread_h: 1.0 }, chance: 0.9 });
    assert_eq!(order(&rank(&residents, &candidates, &Seen::default()))[0], RIVER[1]);
    // What is not forecast stands last, in the order of the list.
    let two = rank(&residents, &candidates[2..3], &Seen::default());
    assert_eq!(order(&two), [RIVER[2], RIVER[0], RIVER[1], RIVER[3]]);
    assert_eq!(two.taxa[1].speaks_against[0].because, Because::NotForecast);
}

#[test]
fn what_nothing_fits_is_none_of_these() {
    let taxa = seeded(&RIVER);
    let residents: Vec<&Taxon> = taxa.iter().collect();
    let heavy: Vec<Candidate<'_>> = taxa.iter().map(|taxon| about(taxon, [0.0, 0.0, 0.5, 0.5])).collect();
    for seen in [
        Seen { length_mm: Some(90.0), ..Seen::default() },
        Seen { tails: Some(3), wings: Some(WingsHeld::Roof), length_mm: Some(60.0), ..Seen::default() },
    ] {
        let ranking = rank(&residents, &heavy, &seen);
        assert!(ranking.none_of_these > ranking.taxa[0].odds, "{seen:?}: {}", ranking.none_of_these);
        assert!(ranking.look_next[0] == Look::NothingFits, "{:?}", ranking.look_next);
    }
    // Even on a day of heavy numbers a sign that fits keeps it unlikely.
    let fits = rank(&residents, &heavy, &Seen { tails: Some(3), ..Seen::default() });
    assert!(fits.none_of_these < 0.01);
    let nobody = rank(&[], &[], &Seen::default());
    assert_eq!((nobody.none_of_these, nobody.taxa.len()), (1.0, 0));
}

#[test]
fn what_parts_the_first_two_is_asked_for_and_nothing_given() {
    let taxa = seeded(&["baetis-rhodani", "serratella-ignita"]);
    let residents: Vec<&Taxon> = taxa.iter().collect();
    let first = |seen: &Seen| rank(&residents, &alike(&taxa), seen).look_next[0].clone();
    let asked = first(&Seen { body: vec![Colour::Olive], ..Seen::default() });
    assert_eq!(asked, Look::At(SignKind::Tails));
    let all = Seen {
        tails: Some(2),
        body: vec![Colour::Olive],
        wings: Some(WingsHeld::Upright),
        wing_colours: vec![Colour::Grey],
        length_mm: Some(7.0),
    };
    assert_ne!(first(&all), Look::At(SignKind::Tails));
    // Two that hold everything alike.
    let twins: Vec<Taxon> =
        [0, 1].map(|k| Taxon { slug: Slug::new(&format!("twin-{k}")).expect("a slug"), ..taxa[0].clone() }).to_vec();
    let ranking = rank(&twins.iter().collect::<Vec<_>>(), &alike(&twins), &Seen::default());
    assert!(ranking.look_next[0] == Look::NothingParts, "{:?}", ranking.look_next);
}

fn colour() -> impl Strategy<Value = Colour> {
    prop::sample::select(Colour::WORDS.map(|(colour, _)| colour).to_vec())
}

fn any_taxon(number: usize) -> impl Strategy<Value = Taxon> {
    let orders = ["Ephemeroptera", "Plecoptera", "Trichoptera", "Diptera", "Coleoptera"];
    let order = prop::option::of(prop::sample::select(orders.to_vec()));
    let body_mm = prop::option::of((1.0..30.0_f64, 1.0..2.5_f64).prop_map(|(from, ratio)| (from, from * ratio)));
    let colours = || prop::collection::vec(colour(), 0..4);
    let tails = prop::sample::select(vec![vec![], vec![0], vec![2], vec![3], vec![2, 3]]);
    (order, body_mm, tails, colours(), colours()).prop_map(move |(order, body_mm, tails, body, wings)| Taxon {
        order: order.map(str::to_owned),
        body_mm,
        looks: Looks { tails, body, wings },
        ..Taxon::bare(Slug::new(&format!("taxon-{number}")).expect("a slug"), format!("Taxon {number}"), "species")
    })
}

fn any_seen() -> impl Strategy<Value = Seen> {
    let tails = prop::option::of(prop::sample::select(vec![0_u8, 2, 3]));
    let wings = prop::option::of(prop::sample::select(WingsHeld::WORDS.map(|(held, _)| held).to_vec()));
    let colours = || prop::collection::vec(colour(), 0..3);
    (prop::option::of(0.5..100.0_f64), tails, wings, colours(), colours())
        .prop_map(|(length_mm, tails, wings, body, wing_colours)| Seen { length_mm, tails, wings, body, wing_colours })
}

fn any_classes() -> impl Strategy<Value = [f64; 4]> {
    prop::array::uniform4(0.0..1.0_f64).prop_map(|raw| {
        let sum: f64 = raw.iter().sum::<f64>().max(1e-9);
        raw.map(|one| one / sum)
    })
}

/// Found by chance: a range of one value was widened to one side.
#[test]
fn one_length_in_a_table_is_met_best_by_that_length() {
    let odds = |own_mm: f64| {
        let mut taxon = Taxon::bare(Slug::new("taxon-0").expect("a slug"), "Taxon 0", "species");
        taxon.body_mm = Some((own_mm, own_mm));
        let told = Seen { length_mm: Some(24.5), ..Seen::default() };
        rank(&[&taxon], &[], &told).taxa[0].odds
    };
    for other in [21.7, 22.7, 26.5, 27.6] {
        assert!(odds(24.5) > odds(other), "{other}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn odds_are_odds(taxa in (any_taxon(0), any_taxon(1), any_taxon(2)), classes in any_classes(), seen in any_seen()) {
        let taxa = [taxa.0, taxa.1, taxa.2];
        let ranking = rank(&taxa.iter().collect::<Vec<_>>(), &[about(&taxa[0], classes)], &seen);
        let sum = ranking.none_of_these + ranking.taxa.iter().map(|one| one.odds).sum::<f64>();
        prop_assert!((sum - 1.0).abs() < 1e-9);
        prop_assert!(ranking.taxa.iter().all(|one| one.odds > 0.0 && one.odds.is_finite()));
        prop_assert!(ranking.taxa.is_sorted_by(|a, b| a.odds >= b.odds));
        for one in &ranking.taxa {
            prop_assert!(one.speaks_for.iter().all(|reason| reason.factor.is_none_or(|f| f > 1.0)));
            prop_assert!(one.speaks_against.iter().all(|reason| reason.factor.is_none_or(|f| f < 1.0)));
        }
    }

    /// A taxon that comes to match one sign better, the others as they were, never stands lower.
    #[test]
    fn a_better_match_never_lowers_the_rank(
        taxa in (any_taxon(0), any_taxon(1), any_taxon(2)),
        seen in any_seen(),
        classes in prop::array::uniform3(any_classes()),
    ) {
        let mut taxa = [taxa.0, taxa.1, taxa.2];
        let placed = |taxa: &[Taxon; 3]| {
            let candidates: Vec<_> = taxa.iter().zip(classes).map(|(taxon, classes)| about(taxon, classes)).collect();
            let ranking = rank(&taxa.iter().collect::<Vec<_>>(), &candidates, &seen);
            (place(&ranking, &taxa[0].slug), ranking.none_of_these)
        };
        let mut before = placed(&taxa);
        let mut no_worse = |taxa: &[Taxon; 3]| {
            let after = placed(taxa);
            let fine = after.0 <= before.0 && after.1 <= before.1 + 1e-12;
            before = after;
            fine
        };
        if let Some((mm, (from, to))) = seen.length_mm.zip(taxa[0].body_mm) {
            // The same width around what was measured.
            let half = (to / from).sqrt();
            taxa[0].body_mm = Some((mm / half, mm * half));
            prop_assert!(no_worse(&taxa), "length");
        }
        if let Some(count) = seen.tails.filter(|_| !taxa[0].looks.tails.is_empty()) {
            taxa[0].looks.tails = vec![count];
            prop_assert!(no_worse(&taxa), "tails");
        }
        if let [only] = seen.body[..] && !taxa[0].looks.body.is_empty() {
            taxa[0].looks.body = vec![only];
            prop_assert!(no_worse(&taxa), "body");
        }
        if let [only] = seen.wing_colours[..] && !taxa[0].looks.wings.is_empty() {
            taxa[0].looks.wings = vec![only];
            prop_assert!(no_worse(&taxa), "wings");
        }
    }

    /// Without signs, whoever the forecast expects more of stands higher, whatever the traits.
    #[test]
    fn no_signs_leave_the_order_of_the_forecast(
        taxa in (any_taxon(0), any_taxon(1)),
        classes in any_classes(),
        other in any_classes(),
    ) {
        let taxa = [taxa.0, taxa.1];
        let numbers = |classes: [f64; 4]| classes[1] + 3.0 * classes[2] + 9.0 * classes[3];
        prop_assume!((numbers(classes) - numbers(other)).abs() > 1e-6);
        let ranking =
            rank(&[&taxa[0], &taxa[1]], &[about(&taxa[0], classes), about(&taxa[1], other)], &Seen::default());
        prop_assert_eq!(place(&ranking, &taxa[0].slug) == 0, numbers(classes) > numbers(other));
    }

    /// A body far longer than any resident's is none of them, however many are about.
    #[test]
    fn an_impossible_length_is_none_of_these(factor in 4.0..6.0_f64, tails in prop::option::of(0..1_u8)) {
        let taxa = seeded(&RIVER);
        let longest = taxa.iter().filter_map(|t| t.body_mm).map(|(_, to)| to).fold(0.0, f64::max);
        let candidates: Vec<_> = taxa.iter().map(|taxon| about(taxon, [0.1, 0.4, 0.4, 0.1])).collect();
        let seen = Seen { length_mm: Some(longest * factor), tails, ..Seen::default() };
        let ranking = rank(&taxa.iter().collect::<Vec<_>>(), &candidates, &seen);
        prop_assert!(ranking.none_of_these > ranking.taxa[0].odds, "{} {}", ranking.none_of_these, ranking.taxa[0].odds);
    }
}
