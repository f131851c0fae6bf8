//! The rules of wind, rain, sun and the height of the water. A forecast of the weather has moved the chances of flights
//! and of duns already, so that rules of numbers hold for what is seen on the bank alone; rules of stages for both.

use super::rule::{IDLE, Kind, MEMORY, PRACTICE, Phase, Rule, When};
use crate::domain::taxon::EmergenceMode::{Bottom, CrawlOut, Surface};
use crate::domain::{Condition, Stage, WaterType};

use Condition::{BrightSun, ColdDamp, FallingWater, HotDry, Rain, RisingWater, Windy};
use Phase::{Early, Flight, Peak, Tail};
use Stage::{Adult, Dun, Emerger, Nymph, Pupa, Spent, Spinner};

/// Where a flight that the wind puts off may still be.
const IN_THE_LEE: &str = "Look in the lee of trees and high banks, and wait for the wind to drop: flights gather there, \
                          or come late.";

pub(super) const OF_WEATHER: &[Rule] = &[
    Rule {
        id: "wind-holds-flight",
        when: &[When::Here(Windy), When::In(&[Flight])],
        case: 0.3,
        check: Some(IN_THE_LEE),
        because: "In wind spinners stay in the leaves: the flight is put off, or called off.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "wind-forecast-for-flight",
        when: &[When::Forecast(Windy), When::In(&[Flight])],
        check: Some(IN_THE_LEE),
        because: "Wind is forecast for dusk, and the odds of the flight are lowered for it already.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "wind-blows-duns-in",
        when: &[When::Met(Windy), When::Mode(CrawlOut), When::Kind(&[Kind::Mayfly]), When::In(&[Early, Peak, Tail])],
        stages: &[(Dun, 30.0)],
        because: "It hatches on land, but wind blows some of its duns onto the water.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "wind-on-still-water",
        when: &[When::Met(Windy), When::Water(&[WaterType::StillWater])],
        check: Some(
            "Go to the shore that the wind blows onto, if waves and footing allow it: what floats gathers there.",
        ),
        because: "Wind carries what floats on still water to one shore.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "rain-holds-flight",
        when: &[When::Here(Rain), When::In(&[Flight])],
        case: 0.3,
        because: "In rain spinners stay in the leaves.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "rain-traps-duns",
        when: &[When::Met(Rain), When::Kind(&[Kind::Mayfly]), When::Mode(Surface), When::In(&[Peak, Tail])],
        stages: &[(Emerger, 1.3), (Dun, 1.2)],
        because: "Rain wets wings: more are stuck in the film or drown before they fly.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "cold-damp-duns-sit",
        when: &[
            When::Met(ColdDamp),
            When::Kind(&[Kind::Mayfly]),
            When::Habit(&["swimmer"]),
            When::AtMostMm(9.0),
            When::In(&[Early, Peak, Tail]),
        ],
        stages: &[(Dun, 1.5)],
        because: "On a cold, damp day the duns of small swimmers sit on the water for longer.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "hot-dry-duns-leave",
        when: &[When::Met(HotDry), When::Kind(&[Kind::Mayfly]), When::In(&[Early, Peak, Tail])],
        stages: &[(Emerger, 1.5)],
        because: "On a hot, dry day duns leave the water at once: fish take what is still in the film.",
        provenance: MEMORY,
        ..IDLE
    },
    Rule {
        id: "bright-sun-deeper",
        when: &[When::Met(BrightSun)],
        stages: &[(Nymph, 1.3), (Pupa, 1.3), (Dun, 0.8), (Adult, 0.8)],
        check: Some("Begin with the shaded side and broken water, and keep your own shadow off both."),
        because: "In bright sun fish lie deeper and in the shade, and look longer at what floats.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "falling-water",
        when: &[When::Met(FallingWater)],
        stages: &[(Nymph, 1.3)],
        stand: Some(WaterType::Run),
        because: "Water that falls and clears brings fish back from the edges to look for what drifts.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "falling-water-winged",
        when: &[When::Met(FallingWater), When::Mode(Bottom), When::In(&[Early, Peak])],
        stages: &[(Emerger, 1.2)],
        because: "In water not quite clear yet the swung wet is found more easily than what floats.",
        provenance: PRACTICE,
        ..IDLE
    },
    // Last, so that it has the last word on where to stand.
    Rule {
        id: "rising-water",
        when: &[When::Met(RisingWater)],
        stages: &[(Nymph, 2.0), (Pupa, 1.3), (Emerger, 0.7), (Dun, 0.5), (Spinner, 0.5), (Spent, 0.5)],
        stand: Some(WaterType::SlowMargin),
        check: Some(
            "Leave the water now and stay out while it rises or colours: fish slow edges from the bank, or go home.",
        ),
        urgent: true,
        because: "Rising water washes nymphs loose, drowns what floats and drives fish to the edges.",
        provenance: PRACTICE,
        ..IDLE
    },
];
