//! The season review on a water of one reach: a season that was late is told whole.

use std::sync::Arc;

use subimago::domain::season::Cycle;
use subimago::model::clock::Drivers;
use subimago::model::emergence::review::{Review, review};
use subimago::model::emergence::{FitInput, TaxonPrior, fit_taxon};
use subimago::model::likelihood::time_of_day::Midnight;
use subimago::model::posterior::{Dataset, Observation, Outcome, Protocol, Unit, WHOLE_SEASON};

/// Days by which each season is later than the others.
const LATE: [f64; 8] = [0.0, 2.0, -2.0, 0.0, 8.0, -3.0, 1.0, 0.0];

fn reviewed(reaches: usize) -> Review {
    let drivers = Arc::new(Drivers {
        idle_days: 0,
        tmin_c: vec![10.0; 365],
        tmax_c: vec![10.0; 365],
        day_length_hours: vec![12.0; 365],
    });
    let unit = |site: usize, year: usize| {
        let class = |day: usize| match (day as f64 - 150.0 - LATE[year]).abs() {
            off if off < 4.0 => 3,
            off if off < 9.0 => 2,
            off if off < 15.0 => 1,
            _ => 0,
        };
        let observations = (90 + (year + site) % 3..230).step_by(4).map(|day| Observation {
            from_day: day - 1,
            to_day: day,
            outcome: Outcome::Class(class(day)),
            protocol: Protocol::Visit,
            log_effort: 0.0,
            hours: None,
            x: [0.0; 3],
            weight: 1.0,
        });
        Unit { site, year, drivers: Arc::clone(&drivers), observations: observations.collect() }
    };
    let data = Dataset {
        sites: reaches,
        years: LATE.len(),
        units: (0..reaches).flat_map(|site| (0..LATE.len()).map(move |year| unit(site, year))).collect(),
        climate: Drivers::mean_of([drivers.as_ref()]),
        midnight: Midnight::Wraps,
        window: WHOLE_SEASON,
    };
    let prior = TaxonPrior {
        base_temp_c: (2.0, 1.0),
        median_day: None,
        width_days: None,
        species: true,
        one_of_several: false,
        hour: None,
    };
    let input = FitInput {
        sites: Vec::new(),
        data,
        years: (2001..2009).collect(),
        prior,
        has_water: false,
        hours_known: false,
        flights: None,
        cycle: Cycle::Calendar,
    };
    review(&fit_taxon(&input).unwrap()).into_iter().next().unwrap()
}

#[test]
fn a_late_season_is_told_whole_on_one_reach_as_on_three() {
    let usual = LATE.iter().sum::<f64>() / LATE.len() as f64;
    for reaches in [1, 3] {
        let told = reviewed(reaches);
        for (season, late) in told.seasons.iter().zip(LATE) {
            println!("{reaches} reaches, {}: {:.1} +/- {:.1} d", season.year, season.days_late, season.sd_days);
            // What is told is drawn a little towards the usual season.
            assert!((season.days_late - (late - usual)).abs() < 1.2, "{season:?}");
            assert!(season.sd_days < 0.6 * season.usual_sd_days, "{season:?}");
        }
    }
}
