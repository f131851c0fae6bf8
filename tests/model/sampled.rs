//! Mode, curvature and estimated effects' sds against a sampler of the whole posterior, on simulated
//! class visits with hours: base temperature, median day, width, class slope and hour are all free.

use subimago::domain::fit::ClockKind;
use subimago::model::emergence::{TaxonPrior, fit_clock};

use crate::chains::hold;
use crate::hierarchy::{Sds, compare};
use crate::simulated::{Records, dataset};
use crate::world::{Truth, World};

#[test]
fn class_visits_with_hours() {
    let world = World::new(Truth::thermal(), 1);
    let data = dataset(&world, Records::Classes);
    let taxon = TaxonPrior {
        base_temp_c: (4.0, 2.0),
        median_day: Some((135.0, 20.0)),
        width_days: None,
        species: true,
        one_of_several: false,
        hour: Some((14.0, 3.0)),
    };
    let fit = fit_clock(ClockKind::Thermal, &data, &taxon, false).unwrap();
    let rows = compare(&fit, &data, &taxon, Sds::Sampled, 1);
    assert!(rows[..5].iter().all(|row| !row.held() && !row.prior_only), "every parameter is told by the records");
    hold(&rows);
}
