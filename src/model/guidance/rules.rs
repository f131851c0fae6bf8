//! The table of rules: how insects live, how many come, where and how late in the season. Later rows
//! speak over earlier ones where both say where to stand.

use super::rule::{IDLE, Kind, Laying, MEMORY, PRACTICE, Phase, Rule, Size, When};
use super::rules_of_signs::OF_SIGNS;
use super::rules_of_weather::OF_WEATHER;
use crate::domain::taxon::EmergenceMode::{Bottom, CrawlOut, PupalAscent, Surface};
use crate::domain::{AbundanceClass, Stage, WaterType};

use Phase::{Before, Early, Flight, Peak, Quiet, Tail};
use Stage::{Adult, Dun, Emerger, Nymph, Pupa, Spent, Spinner};

const LAYS_UNDER_WATER: &str = "genus Baetis lays under stones, under water: Brittain and Sartori, Ephemeroptera, \
                                chapter of an insect encyclopedia; what to fish: common practice, no source";
const CRAWLS_OUT: &str = "genus Isonychia crawls out: Brittain and Sartori, Ephemeroptera, chapter of an insect \
                          encyclopedia; what to fish: from memory";

/// All rules, in the order in which they are read.
pub(super) fn rules() -> impl Iterator<Item = &'static Rule> {
    OF_LIFE.iter().chain(OF_SIGNS).chain(OF_WEATHER)
}

const OF_LIFE: &[Rule] = &[
    Rule {
        id: "no-forecast",
        when: &[When::NoTaxon],
        stages: &[(Nymph, 6.0), (Emerger, 2.0), (Spent, 0.5), (Spinner, 0.5)],
        check: Some("Turn a few stones and look at what is in the drift and on the webs of spiders at the bank."),
        because: "No forecast is published for this reach and day: this is what is in the water most of the time.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "look-first",
        check: Some("Catch one before you tie anything on: measure its body without the tails, compare, put it back."),
        because: "Numbers are odds; the insect in the hand is the answer.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "empty-hours",
        when: &[When::AnyTaxon, When::In(&[Quiet])],
        stages: &[(Nymph, 6.0), (Pupa, 3.0), (Emerger, 0.5), (Dun, 0.5), (Adult, 0.5), (Spinner, 0.5), (Spent, 0.5)],
        because: "Perhaps nothing comes at this hour: what lives on the bottom is there all the time.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "habit-free-moving",
        when: &[When::Habit(&["swimmer", "crawler"]), When::In(&[Quiet, Before])],
        stages: &[(Nymph, 2.0)],
        stand: Some(WaterType::Run),
        because: "Its nymphs swim or crawl in the open and drift on most days, so fish know them.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "habit-clinger",
        when: &[When::Habit(&["clinger"]), When::In(&[Quiet, Peak, Tail])],
        stages: &[(Nymph, 0.4)],
        because: "Its nymphs cling to stones and hardly drift until just before they emerge.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "stand-by-fast-water",
        when: &[When::Habit(&["clinger"])],
        stand: Some(WaterType::Riffle),
        because: "It lives among the stones of fast water.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "stand-by-silt",
        when: &[When::Habit(&["burrower"])],
        stand: Some(WaterType::Pool),
        because: "It burrows in silt or fine gravel, where the water is slow.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "surface-before",
        when: &[When::Mode(Surface), When::In(&[Before])],
        stages: &[(Nymph, 20.0), (Emerger, 2.0), (Dun, 0.3), (Spinner, 0.3), (Spent, 0.3)],
        because: "In the hours before the first duns the nymphs drift, then rise.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "surface-early",
        when: &[When::Mode(Surface), When::In(&[Early])],
        stages: &[(Emerger, 14.0), (Nymph, 10.0), (Dun, 3.0), (Spinner, 0.4), (Spent, 0.4)],
        because: "The first are leaving their skins in the film, and the nymphs under them are still rising.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "surface-peak",
        when: &[When::Mode(Surface), When::In(&[Peak])],
        stages: &[(Emerger, 14.0), (Dun, 10.0), (Nymph, 3.0), (Spinner, 0.4), (Spent, 0.4)],
        because: "It hatches at the surface: those stuck in the film are easiest to take, duns come next.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "surface-tail",
        when: &[When::Mode(Surface), When::In(&[Tail])],
        stages: &[(Dun, 12.0), (Emerger, 5.0), (Spinner, 0.4), (Spent, 0.4)],
        because: "Late in its hours duns, cripples and drowned duns are left on the water.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "bottom-before",
        when: &[When::Mode(Bottom), When::In(&[Before])],
        stages: &[(Nymph, 20.0), (Dun, 0.3), (Spinner, 0.3), (Spent, 0.3)],
        because: "The nymphs come to the upper side of the stones before they split.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "bottom-early",
        when: &[When::Mode(Bottom), When::In(&[Early])],
        stages: &[(Emerger, 18.0), (Nymph, 5.0), (Dun, 2.0), (Spinner, 0.4), (Spent, 0.4)],
        because: "It leaves its skin on the bottom and comes up winged: a wet fly swung across and up looks like it.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "bottom-peak",
        when: &[When::Mode(Bottom), When::In(&[Peak])],
        stages: &[(Emerger, 12.0), (Dun, 9.0), (Nymph, 2.0), (Spinner, 0.4), (Spent, 0.4)],
        because: "It comes up winged from the bottom: the swung wet first, then the dun.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "bottom-tail",
        when: &[When::Mode(Bottom), When::In(&[Tail])],
        stages: &[(Dun, 12.0), (Emerger, 4.0), (Spinner, 0.4), (Spent, 0.4)],
        because: "Late in its hours the duns are what is left.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "crawl-out-no-dun",
        when: &[When::Mode(CrawlOut)],
        stages: &[(Emerger, 0.1), (Dun, 0.01)],
        because: "It leaves the water as a nymph: fish see a dun only when one is blown in.",
        provenance: CRAWLS_OUT,
        ..IDLE
    },
    Rule {
        id: "crawl-out",
        when: &[When::Mode(CrawlOut), When::In(&[Before, Early, Peak])],
        stages: &[(Nymph, 20.0), (Adult, 0.5), (Spinner, 0.3), (Spent, 0.3)],
        stand: Some(WaterType::SlowMargin),
        check: Some("Look for empty skins on stones and stems at the edge."),
        because: "It crawls out to hatch: its nymphs gather at the edge first.",
        provenance: CRAWLS_OUT,
        ..IDLE
    },
    Rule {
        id: "crawl-out-tail",
        when: &[When::Mode(CrawlOut), When::In(&[Tail])],
        stages: &[(Nymph, 8.0), (Spinner, 0.3), (Spent, 0.3)],
        case: 0.3,
        stand: Some(WaterType::SlowMargin),
        because: "It crawls out to hatch, and few are left in the water.",
        provenance: CRAWLS_OUT,
        ..IDLE
    },
    Rule {
        id: "crawl-out-pupa",
        when: &[When::Mode(CrawlOut), When::Kind(&[Kind::Caddis]), When::In(&[Before, Early, Peak, Tail])],
        stages: &[(Pupa, 20.0), (Nymph, 0.1)],
        because: "It is a caddis: what crawls or swims to the edge is the pupa.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "pupal-before",
        when: &[When::Mode(PupalAscent), When::In(&[Before])],
        stages: &[(Pupa, 20.0), (Nymph, 3.0), (Adult, 0.3)],
        because: "Pupae leave their cases and drift before they rise.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "pupal-early",
        when: &[When::Mode(PupalAscent), When::In(&[Early])],
        stages: &[(Pupa, 20.0), (Emerger, 6.0)],
        because: "The first pupae are rising to the surface.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "pupal-peak",
        when: &[When::Mode(PupalAscent), When::In(&[Peak])],
        stages: &[(Pupa, 12.0), (Adult, 8.0), (Emerger, 6.0)],
        because: "Pupae rise, and adults run and skitter over the water.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "pupal-tail",
        when: &[When::Mode(PupalAscent), When::In(&[Tail])],
        stages: &[(Adult, 12.0), (Pupa, 4.0)],
        because: "Late in its hours the adults are what is left.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "lays-on-surface",
        when: &[When::Kind(&[Kind::Mayfly]), When::Laying(&[Laying::Surface, Laying::Unknown]), When::In(&[Flight])],
        stages: &[(Spent, 20.0), (Spinner, 8.0), (Nymph, 0.5), (Emerger, 0.5)],
        stand: Some(WaterType::Pool),
        check: Some("In wind above about 20 km/h or a cold dusk the spinner fall may come late or not at all."),
        because: "Its spinners lay on the surface and die there: spent first, upright early in the fall.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "lays-under-water",
        when: &[When::Kind(&[Kind::Mayfly]), When::Laying(&[Laying::Dive]), When::In(&[Flight])],
        stages: &[(Spinner, 20.0), (Spent, 4.0), (Nymph, 0.5), (Emerger, 0.5)],
        stand: Some(WaterType::Riffle),
        check: Some("Look for spinners that walk down stones standing out of the water."),
        because: "Its females go under water to lay: a small wet fished under the surface, near stones that stand out.",
        provenance: LAYS_UNDER_WATER,
        ..IDLE
    },
    Rule {
        id: "lays-either-way",
        when: &[When::Kind(&[Kind::Mayfly]), When::Laying(&[Laying::Either]), When::In(&[Flight])],
        stages: &[(Spinner, 12.0), (Spent, 12.0), (Nymph, 0.5), (Emerger, 0.5)],
        because: "Some of its females lay on the surface and some under water: half of each.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "lays-from-stones",
        when: &[When::Laying(&[Laying::Stone]), When::In(&[Flight])],
        stages: &[(Spinner, 10.0), (Spent, 4.0), (Adult, 6.0)],
        case: 0.4,
        stand: Some(WaterType::Riffle),
        because: "It lays from stones: little over open water, something near the stones.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "lays-at-the-edge",
        when: &[When::Laying(&[Laying::Edge]), When::In(&[Flight])],
        case: 0.05,
        because: "It lays on land or at the edge: the flight brings fish next to nothing.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "adults-return",
        when: &[When::Kind(&[Kind::Caddis, Kind::Stonefly, Kind::Midge]), When::In(&[Flight])],
        stages: &[(Adult, 20.0), (Nymph, 0.5), (Pupa, 2.0), (Emerger, 0.5)],
        because: "It has no dun and no spinner: what returns to lay is the adult.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "stonefly-lays",
        when: &[When::Kind(&[Kind::Stonefly]), When::In(&[Flight])],
        case: 2.0,
        because: "Of stoneflies the female that lays eggs matters most.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "tiny",
        when: &[When::Kind(&[Kind::Mayfly]), When::AtMostMm(5.0), When::In(&[Flight])],
        stages: &[(Spent, 1.5)],
        case: 3.0,
        because: "It is tiny: fish wait until the spinners lie on the water and take many at a time.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "heavy",
        when: &[When::Class(AbundanceClass::Heavy)],
        sharpen: 1.4,
        check: Some("On a heavy day look for a second insect mixed in with the many: fish may take the fewer."),
        because: "With so many on the water fish settle on one stage and one size: both must be exact.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "sparse",
        when: &[When::Class(AbundanceClass::Sparse)],
        sharpen: 0.7,
        size: Size::SmallHalf,
        check: Some("If the first fish refuses, go one size smaller before you change anything else."),
        because: "When few come fish are not choosy: stage and size matter less; if in doubt, err small.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "first-days",
        when: &[When::Done(0.0, 0.1), When::In(&[Before, Early, Peak])],
        stages: &[(Nymph, 1.3)],
        because: "The season of this insect has hardly begun, and fish are not yet used to the winged ones.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "last-days",
        when: &[When::Done(0.9, 2.0)],
        size: Size::SmallHalf,
        because: "Insects that emerge late in their season are smaller than the first.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "fast-water",
        when: &[When::Water(&[WaterType::Riffle])],
        sharpen: 0.9,
        because: "Broken water gives fish little time to look.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "slow-water",
        when: &[When::Water(&[WaterType::Pool, WaterType::SlowMargin, WaterType::StillWater])],
        sharpen: 1.15,
        because: "In slow water fish look long: stage and size count for more.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "still-water",
        when: &[When::Water(&[WaterType::StillWater])],
        stages: &[(Nymph, 1.3), (Pupa, 1.3)],
        stand: Some(WaterType::StillWater),
        because: "In still water insects take long to rise and fish meet them on the way.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "dark",
        when: &[When::Dark],
        sharpen: 0.8,
        because: "In the dark fish see outlines, not patterns.",
        provenance: PRACTICE,
        ..IDLE
    },
];
