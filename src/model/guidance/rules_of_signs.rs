//! The rules that signs from the bank set off. All of them are common practice, no source.

use super::rule::{IDLE, Kind, PRACTICE, Phase, Rule, Size, When};
use crate::domain::{Sign, Stage};

use Phase::{Before, Early, Flight, Peak, Quiet, Tail};
use Stage::{Adult, Dun, Emerger, Nymph, Pupa, Spent, Spinner};

const QUIET_RISES: When = When::Sign(Sign::QuietRises);

pub(super) const OF_SIGNS: &[Rule] = &[
    Rule {
        id: "dark-wing-pads",
        when: &[When::Sign(Sign::DarkWingPads), When::Kind(&[Kind::Mayfly, Kind::Stonefly])],
        odds: 2.5,
        check: Some(
            "Come back to the same stones in an hour: empty skins or fewer dark pads mean that they are on the way.",
        ),
        because: "Nymphs with black wing pads emerge within a day, often the same day: the odds of today are raised.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "dark-wing-pads-nymph",
        when: &[
            When::Sign(Sign::DarkWingPads),
            When::Kind(&[Kind::Mayfly, Kind::Stonefly]),
            When::In(&[Quiet, Before]),
        ],
        stages: &[(Nymph, 1.5)],
        because: "Until they come, ripe nymphs are restless and drift.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "quiet-rises-spent",
        when: &[QUIET_RISES, When::Kind(&[Kind::Mayfly]), When::In(&[Flight])],
        stages: &[(Spent, 2.0)],
        case: 8.0,
        check: Some("Look across the light along the foam lines: flat spent wings are seen only from low down."),
        because: "Steady, unhurried rises with nothing in the air: spent spinners lie flat in the film.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "quiet-rises-left-over",
        when: &[QUIET_RISES, When::Kind(&[Kind::Mayfly]), When::In(&[Quiet])],
        stages: &[(Spent, 12.0), (Nymph, 0.3)],
        because: "Fish rise although nothing hatches: the spent of an earlier flight may still drift by.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "quiet-rises-midges",
        when: &[QUIET_RISES, When::Kind(&[Kind::Midge])],
        stages: &[(Pupa, 2.0), (Emerger, 2.0), (Nymph, 0.3)],
        case: 4.0,
        check: Some("Hold a fine net in the surface drift for a minute: midges are too small to see from the bank."),
        because: "Steady, unhurried rises with nothing in the air are often to midges just under the film.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "quiet-rises-no-hatch",
        when: &[
            QUIET_RISES,
            When::Kind(&[Kind::Mayfly, Kind::Caddis, Kind::Stonefly]),
            When::In(&[Before, Early, Peak, Tail]),
        ],
        case: 0.1,
        because: "Nothing in the air: its emergence is not what the fish are at.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "bubble-after-rise",
        when: &[When::Sign(Sign::BubbleAfterRise)],
        stages: &[(Dun, 2.0), (Adult, 2.0), (Spinner, 1.5), (Spent, 1.5), (Nymph, 0.25), (Pupa, 0.4)],
        check: Some("Watch one fish and one drifting insect together until it is gone: was it on top?"),
        because: "A bubble stays where a fish took air with its food: it takes from the top of the water.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "deep-flashes",
        when: &[When::Sign(Sign::DeepFlashes)],
        stages: &[(Nymph, 4.0), (Pupa, 2.5), (Emerger, 0.5), (Dun, 0.25), (Adult, 0.25), (Spinner, 0.5), (Spent, 0.25)],
        check: Some("Watch whether the flashes move up in the water: then change from nymph to emerger."),
        because: "Fish that turn and flash near the bottom take what drifts there.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "duns-ignored",
        when: &[When::Sign(Sign::DunsIgnored)],
        stages: &[(Dun, 0.12), (Emerger, 3.0), (Spent, 2.0)],
        check: Some(
            "Let the duns pass and look for what comes with them: a smaller insect, or skins half shed in the film.",
        ),
        because: "Duns go by untouched while fish rise: they take the stage before, or another insect.",
        provenance: PRACTICE,
        ..IDLE
    },
    Rule {
        id: "late-refusals",
        when: &[When::Sign(Sign::LateRefusals)],
        stages: &[(Emerger, 1.3), (Dun, 0.8)],
        size: Size::OneSmaller,
        check: Some("Watch for drag in the last second before a refusal; then change the size before the stage."),
        because: "Fish that come and turn away like what they see from afar: one size smaller is the first thing to try.",
        provenance: PRACTICE,
        ..IDLE
    },
];
