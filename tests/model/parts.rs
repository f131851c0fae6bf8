//! One part or two: evidence of fits that differ in the number of their parameters.

use subimago::domain::fit::ClockKind;
use subimago::model::emergence::{TaxonPrior, fit_clock};

use crate::simulated::{Records, TRAITS, dataset};
use crate::world::{Truth, World};

/// Of an order, of which a second part is always tried.
const PRIOR: TaxonPrior = TaxonPrior { species: false, ..TRAITS };

#[test]
fn a_second_part_where_there_is_none_lowers_the_evidence() {
    for seed in 1..=3 {
        let data = dataset(&World::new(Truth { years: 6, ..Truth::thermal() }, seed), Records::Classes);
        let evidence =
            |two_parts| fit_clock(ClockKind::Thermal, &data, &PRIOR, two_parts).map(|fit| fit.log_evidence());
        let (one, two) = (evidence(false).unwrap(), evidence(true).unwrap());
        println!("seed {seed}: log evidence {one:.1} of one part, {two:.1} of two");
        assert!(two < one, "{one} and {two}");
    }
}
