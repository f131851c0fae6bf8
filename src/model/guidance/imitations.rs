//! Generic names of imitations: stage and life to words of the trade.

use super::Moment;
use super::cases::Case;
use super::rule::{Kind, Laying, Phase, When};
use crate::domain::Stage;
use crate::domain::taxon::EmergenceMode;

struct Row {
    stage: Stage,
    when: &'static [When],
    names: &'static [(&'static str, f64)],
}

const fn row(stage: Stage, when: &'static [When], names: &'static [(&'static str, f64)]) -> Row {
    Row { stage, when, names }
}

const SUNKEN: &str = "sunken female";
const EGG_LAYER: &str = "egg-laying adult";
const CRAWLS: When = When::Mode(EmergenceMode::CrawlOut);
const STIRRING: When = When::In(&[Phase::Before, Phase::Early, Phase::Peak, Phase::Tail]);

/// The first row that fits names the imitation; several names share the weight.
const ROWS: &[Row] = &[
    row(Stage::Nymph, &[When::Kind(&[Kind::Caddis, Kind::Midge])], &[("larva", 1.0)]),
    row(Stage::Nymph, &[CRAWLS, STIRRING], &[("nymph fished near the edge", 1.0)]),
    row(Stage::Nymph, &[When::In(&[Phase::Early, Phase::Peak])], &[("floating nymph", 0.6), ("nymph", 0.4)]),
    row(Stage::Nymph, &[], &[("nymph", 1.0)]),
    row(Stage::Pupa, &[CRAWLS, STIRRING], &[("pupa fished near the edge", 1.0)]),
    row(Stage::Pupa, &[], &[("rising pupa", 1.0)]),
    row(Stage::Emerger, &[When::Mode(EmergenceMode::Bottom)], &[("soft-hackle wet, swung", 1.0)]),
    row(Stage::Emerger, &[], &[("trailing-shuck emerger in the film", 1.0)]),
    row(Stage::Dun, &[When::In(&[Phase::Tail])], &[("parachute dun", 0.6), ("drowned dun", 0.4)]),
    row(Stage::Dun, &[], &[("parachute dun", 1.0)]),
    row(Stage::Adult, &[When::In(&[Phase::Flight]), When::Laying(&[Laying::Dive])], &[(SUNKEN, 1.0)]),
    row(
        Stage::Adult,
        &[When::In(&[Phase::Flight]), When::Laying(&[Laying::Either])],
        &[(EGG_LAYER, 0.5), (SUNKEN, 0.5)],
    ),
    row(Stage::Adult, &[When::In(&[Phase::Flight])], &[(EGG_LAYER, 1.0)]),
    row(Stage::Adult, &[When::Kind(&[Kind::Caddis]), STIRRING], &[("skittering adult", 1.0)]),
    row(Stage::Adult, &[], &[("adult", 1.0)]),
    row(Stage::Spinner, &[When::Laying(&[Laying::Dive])], &[(SUNKEN, 1.0)]),
    row(Stage::Spinner, &[When::Laying(&[Laying::Either])], &[(SUNKEN, 0.7), ("upright spinner", 0.3)]),
    row(Stage::Spinner, &[], &[("upright spinner", 1.0)]),
    row(Stage::Spent, &[], &[("spent spinner", 1.0)]),
];

/// Names with their shares (sum 1) for `stage` in `case`.
pub(super) fn names(stage: Stage, case: &Case<'_>, moment: &Moment) -> &'static [(&'static str, f64)] {
    let fits = |row: &&Row| row.stage == stage && row.when.iter().all(|when| when.holds(case, moment));
    ROWS.iter().find(fits).map_or(&[("nymph", 1.0)], |row| row.names)
}

/// Every name of the table.
pub(super) fn all_names() -> impl Iterator<Item = &'static str> {
    ROWS.iter().flat_map(|row| row.names).map(|(name, _)| *name)
}
