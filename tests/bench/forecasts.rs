//! Time of whole-season forecasts: 20 reaches of 30 taxa, 400 draws of 365 days each, on water of 100
//! members per reach, on all cores. Run with `cargo bench --bench forecasts`.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::pedantic,
    reason = "a test stops at the first surprise, says what it measured, and is read once"
)]
#![allow(missing_docs, reason = "a bench")]

#[path = "../model/river.rs"]
#[allow(dead_code, reason = "shared with the model's tests")]
mod river;
#[path = "../model/simulated.rs"]
#[allow(dead_code, reason = "shared with the model's tests")]
mod simulated;
#[path = "../model/world.rs"]
#[allow(dead_code, reason = "shared with the model's tests")]
mod world;

use std::time::Instant;

use rayon::prelude::*;
use subimago::domain::season::Cycle;
use subimago::model::clock::Drivers;
use subimago::model::emergence::{FitInput, FittedTaxon, SeasonRequest, fit_taxon, forecast_season};

use simulated::{Records, dataset};
use world::{Truth, World};

const REACHES: usize = 20;
const TAXA: usize = 30;
const MEMBERS: usize = 100;
const DRAWS: usize = 400;
const ROUNDS: usize = 3;

fn fitted(records: Records) -> FittedTaxon {
    let world = World::new(Truth { years: 8, ..Truth::thermal() }, 1);
    let data = dataset(&world, records);
    let years = (2001..2009).collect();
    fit_taxon(&FitInput {
        sites: Vec::new(),
        data,
        years,
        prior: simulated::TRAITS,
        has_water: true,
        hours_known: true,
        flights: None,
        cycle: Cycle::Calendar,
    })
    .unwrap()
}

fn main() {
    let fits = [fitted(Records::Classes), fitted(Records::Traps)];
    let world = World::new(Truth { sites: REACHES, years: MEMBERS, ..Truth::thermal() }, 2);
    let reaches: Vec<Vec<Drivers>> = world
        .climate
        .iter()
        .map(|years| {
            let drivers = |s: &world::SiteYear| Drivers {
                tmin_c: s.tmin_c.clone(),
                tmax_c: s.tmax_c.clone(),
                day_length_hours: world.day_length_hours.clone(),
                idle_days: 0,
            };
            years.iter().map(drivers).collect()
        })
        .collect();
    for (name, fit) in ["classes", "catches"].into_iter().zip(&fits) {
        let mut seconds: Vec<f64> = (0..ROUNDS)
            .map(|_| {
                let begin = Instant::now();
                let share: f64 = (0..REACHES * TAXA)
                    .into_par_iter()
                    .map(|job| {
                        let site = (job / TAXA) % 6;
                        let request = SeasonRequest::new(Some(site), 2009, &reaches[job / TAXA], DRAWS, 1);
                        forecast_season(fit, &request).unwrap().cumulative[364]
                    })
                    .sum();
                assert!(share > 0.9 * (REACHES * TAXA) as f64);
                begin.elapsed().as_secs_f64()
            })
            .collect();
        seconds.sort_by(f64::total_cmp);
        println!(
            "{name}: {} forecasts of {} parameters in {:.2} s (median of {ROUNDS}), {:.1} ms each on one core of {}",
            REACHES * TAXA,
            fit.members[0].fit.laplace.free.len(),
            seconds[ROUNDS / 2],
            1000.0 * seconds[ROUNDS / 2] * rayon::current_num_threads() as f64 / (REACHES * TAXA) as f64,
            rayon::current_num_threads()
        );
    }
}
