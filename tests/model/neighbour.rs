//! A fit on one water helps another that has no records: four reaches of a simulated river with
//! fourteen years of records, and two warmer ones of which only the water is known.

use std::sync::Arc;

use subimago::domain::season::Cycle;
use subimago::model::clock::Drivers;
use subimago::model::emergence::{
    FitInput, FittedTaxon, SeasonRequest, TaxonPrior, carried_over, fit_taxon, forecast_season,
};
use subimago::model::posterior::Dataset;

use crate::simulated::{Records, dataset};
use crate::world::{Truth, World};

/// Reaches of the neighbour; the others are the new water.
const NEIGHBOUR: usize = 4;
const SEEDS: std::ops::RangeInclusive<u64> = 1..=6;

/// Traits that are two weeks off, as those of another region may be.
const TRAITS: TaxonPrior = TaxonPrior {
    base_temp_c: (4.0, 2.0),
    median_day: Some((150.0, 20.0)),
    width_days: None,
    species: true,
    one_of_several: false,
    hour: Some((14.0, 3.0)),
};

fn fit(data: Dataset, years: usize, prior: TaxonPrior) -> FittedTaxon {
    let years = (0..years as i32).map(|y| 2001 + y).collect();
    fit_taxon(&FitInput {
        sites: Vec::new(),
        data,
        years,
        prior,
        has_water: true,
        hours_known: true,
        flights: None,
        cycle: Cycle::Calendar,
    })
    .unwrap()
}

#[test]
fn heat_learned_on_one_water_tells_the_dates_of_a_warmer_one() {
    let (mut helped, mut alone, mut widths, mut inside, mut cases) = (0.0, 0.0, [0.0, 0.0], 0, 0);
    for seed in SEEDS {
        let world = World::new(Truth::thermal(), seed);
        let all = dataset(&world, Records::Classes);
        let (mut there, mut here) = (all.clone(), all.clone());
        there.units.retain(|u| u.site < NEIGHBOUR);
        there.climate = Drivers::mean_of(there.units.iter().map(|u| u.drivers.as_ref()));
        let own = all.units.iter().filter(|u| u.site >= NEIGHBOUR);
        here.climate = Drivers::mean_of(own.map(|u| u.drivers.as_ref()));
        here.units.clear();
        here.years = 0;
        let neighbour = fit(there, world.truth.years, TRAITS);
        assert!(
            carried_over(&TRAITS, &fit(here.clone(), 0, TRAITS), &here.climate, true).is_none(),
            "nothing to carry"
        );
        let later = Drivers { idle_days: 60, ..here.climate.clone() };
        assert!(carried_over(&TRAITS, &neighbour, &later, true).is_none(), "heat counted from another day");
        let carried = carried_over(&TRAITS, &neighbour, &here.climate, true).unwrap();
        let fits = [fit(here.clone(), 0, TRAITS), fit(here, 0, carried)];
        assert!(fits.iter().all(|f| f.prior_driven));
        for site in NEIGHBOUR..world.truth.sites {
            for year in 0..world.truth.years {
                let truth = world.climate[site][year].median_day;
                let unit = all.units.iter().find(|u| (u.site, u.year) == (site, year)).unwrap();
                let water = [Arc::unwrap_or_clone(unit.drivers.clone())];
                let dates = fits.each_ref().map(|fitted| {
                    let request = SeasonRequest::new(None, 2001 + year as i32, &water, 200, 1);
                    forecast_season(fitted, &request).unwrap().milestones[2].map(|day| day.unwrap_or(365.0))
                });
                alone += (dates[0][1] - truth).abs();
                helped += (dates[1][1] - truth).abs();
                for (width, date) in widths.iter_mut().zip(dates) {
                    *width += date[2] - date[0];
                }
                inside += usize::from((dates[1][0]..=dates[1][2]).contains(&truth));
                cases += 1;
            }
        }
    }
    let n = f64::from(cases);
    println!(
        "half-way date on a water without records: mean error {:.1} d from traits, {:.1} d with a neighbour; \
         80 % interval {:.0} and {:.0} d; cover {:.2}",
        alone / n,
        helped / n,
        widths[0] / n,
        widths[1] / n,
        f64::from(inside as u32) / n
    );
    assert!(helped < 0.6 * alone, "{} against {} d", helped / n, alone / n);
    assert!(widths[1] < 0.8 * widths[0], "surer than traits alone");
    // Twelve waters, each with an effect of its own: nine or more of them inside an 80 % interval.
    assert!(f64::from(inside as u32) / n > 0.7, "{inside} of {cases} inside");
}
