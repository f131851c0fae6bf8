//! Does the fit of spinner flights find the truth of a simulated river? Watches are drawn from sums of the
//! simulator's own; only the fits are the model's.

use std::sync::Arc;

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use subimago::domain::fit::ClockKind;
use subimago::domain::flight::{Anchor, FlightHabit};
use subimago::model::emergence::draws::Target;
use subimago::model::emergence::flight::{FlightInput, FlightObservation, FlightUnit, fit_flights};
use subimago::model::emergence::{TaxonPrior, fit_clock};
use subimago::model::posterior::Outcome;

use crate::simulated::{Records, dataset};
use crate::world::{Truth, World};

/// Truth of the flights: class scale above emergence, hours from sunset, spread, effect of 10 km/h of wind.
const DELTA: f64 = 0.8;
const OFFSET_HOURS: f64 = 0.4;
const SPREAD_HOURS: f64 = 0.5;
const WIND: f64 = -1.0;

/// Share of a flight between two hours from sunset, by the midpoint rule.
fn share(from: f64, to: f64) -> f64 {
    let steps = 200;
    let width = (to - from) / f64::from(steps);
    let density = |h: f64| (-0.5 * ((h - OFFSET_HOURS) / SPREAD_HOURS).powi(2)).exp();
    let sum: f64 = (0..steps).map(|k| density(from + (f64::from(k) + 0.5) * width)).sum();
    0.98 * sum * width / (SPREAD_HOURS * std::f64::consts::TAU.sqrt()) + 0.02 * (to - from) / 24.0
}

fn watches(world: &World, site: usize, year: usize, rng: &mut Pcg64) -> Vec<FlightObservation> {
    let season = &world.climate[site][year];
    let truth = &world.truth;
    (0..14)
        .map(|_| {
            let day = (season.median_day + rng.random_range(-18.0..18.0)).round() as usize;
            let start = rng.random_range(-4.0..2.0);
            let (end, wind) = (start + rng.random_range(0.7..2.0), rng.random_range(-1.0..2.0));
            let eta = truth.slope * (season.share[day - 2].ln() + share(start, end).ln())
                + world.site_level[site]
                + DELTA
                + WIND * wind;
            let u: f64 = rng.random_range(0.0..1.0);
            let class = truth.tau.iter().filter(|tau| u < 1.0 / (1.0 + (**tau - eta).exp())).count();
            FlightObservation {
                day,
                outcome: Outcome::Class(class),
                log_effort: 0.0,
                hours: (start, end),
                x: [wind, 0.0, 0.0],
            }
        })
        .collect()
}

#[test]
fn watches_recover_the_hour_the_spread_and_the_wind() {
    let sets = 12;
    let mut errors = [0.0; 4];
    let mut inside = [0; 4];
    for seed in 1..=sets {
        let world = World::new(Truth { sites: 3, years: 8, ..Truth::thermal() }, seed);
        let data = dataset(&world, Records::Classes);
        let prior = TaxonPrior {
            base_temp_c: (4.0, 2.0),
            median_day: Some((135.0, 20.0)),
            width_days: None,
            species: true,
            one_of_several: false,
            hour: Some((14.0, 3.0)),
        };
        let emergence = fit_clock(ClockKind::Thermal, &data, &prior, false).unwrap();
        let mut rng = Pcg64::seed_from_u64(1000 + seed);
        let units = data
            .units
            .iter()
            .map(|unit| FlightUnit {
                site: unit.site,
                year: unit.year as i32,
                drivers: Arc::clone(&unit.drivers),
                observations: watches(&world, unit.site, unit.year, &mut rng),
            })
            .collect();
        let habit = FlightHabit { anchor: Anchor::Sunset, offset_hours: -0.75, offset_sd_hours: 0.75, lag_days: 1 };
        let target = |site: usize, year: i32| Target {
            site: Some(site),
            year: Some(year as usize),
            unit: data.units.iter().position(|u| (u.site, u.year) == (site, year as usize)),
            ..Target::default()
        };
        let fit = fit_flights(&FlightInput { habit, units }, &emergence, &data.climate, &target).unwrap();
        assert_eq!(fit.records, 3 * 8 * 14);
        let sds = fit.laplace.sds();
        let truth = [DELTA, OFFSET_HOURS, SPREAD_HOURS.ln(), WIND];
        for (k, truth) in truth.into_iter().enumerate() {
            let error = fit.laplace.mode[k] - truth;
            errors[k] += error / sets as f64;
            inside[k] += usize::from(error.abs() <= 1.645 * sds[k]);
        }
    }
    println!("mean errors of delta, hour, log spread, wind: {errors:.2?}; inside 90 % of {sets}: {inside:?}");
    assert!(errors[1].abs() < 0.15 && errors[2].abs() < 0.2 && errors[3].abs() < 0.25, "{errors:?}");
    assert!(errors[0].abs() < 0.5, "{errors:?}");
    assert!(inside.iter().sum::<usize>() as f64 >= 0.75 * 4.0 * sets as f64, "{inside:?}");
}
