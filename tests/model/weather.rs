//! Weather that is forecast: what records told of its effect moves duns, and nothing else does.

use subimago::domain::season::Cycle;
use subimago::model::emergence::season::SeasonWeather;
use subimago::model::emergence::{FitInput, FittedTaxon, SeasonRequest, TaxonPrior, fit_taxon, forecast_season};

use crate::simulated::{Records, dataset};
use crate::world::{Truth, World};

const PRIOR: TaxonPrior = TaxonPrior {
    base_temp_c: (4.0, 2.0),
    median_day: Some((136.0, 20.0)),
    width_days: None,
    species: true,
    one_of_several: false,
    hour: Some((14.0, 3.0)),
};

fn fitted(noted: bool) -> (FittedTaxon, World) {
    let world = World::new(Truth { years: 6, ..Truth::thermal() }, 3);
    let mut data = dataset(&world, Records::Classes);
    if !noted {
        data.units.iter_mut().flat_map(|unit| &mut unit.observations).for_each(|o| o.x = [0.0; 3]);
    }
    let years = (2001..2007).collect();
    let input = FitInput {
        data,
        years,
        prior: PRIOR,
        has_water: true,
        hours_known: true,
        flights: None,
        cycle: Cycle::Calendar,
    };
    (fit_taxon(&input).unwrap(), world)
}

/// Chance of at least sparse on the fullest day, under a sky so much more or less than half clouded.
fn chance(fitted: &FittedTaxon, cloud: f64) -> f64 {
    let water = [fitted.climate.clone()];
    let weather = SeasonWeather { duns: vec![[cloud, 0.0, 0.0]; 365], flights: Vec::new() };
    let request = SeasonRequest { weather: Some(&weather), ..SeasonRequest::new(Some(0), 2010, &water, 400, 7) };
    let season = forecast_season(fitted, &request).unwrap();
    season.classes.iter().map(|p| 1.0 - p[0]).fold(0.0, f64::max)
}

#[test]
fn clouds_that_records_told_of_raise_the_duns_of_a_clouded_day() {
    let (fitted, world) = fitted(true);
    assert!(world.truth.beta_cloud > 0.5, "in the simulated river clouds bring duns");
    let odds = |p: f64| p / (1.0 - p);
    let (clear, clouded) = (odds(chance(&fitted, -0.5)), odds(chance(&fitted, 0.5)));
    println!("odds of any on the fullest day {clear:.2} under a clear sky, {clouded:.2} under clouds");
    // exp(0.8) is 2.2; averaged over seasons it is less.
    assert!((1.2..3.0).contains(&(clouded / clear)), "{clear} and {clouded}");
}

#[test]
fn clouds_that_nobody_noted_change_nothing() {
    let (fitted, _) = fitted(false);
    assert_eq!(chance(&fitted, -0.5), chance(&fitted, 0.5));
}
