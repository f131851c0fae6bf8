//! An autumn brood that needs the heat of its own summer: clocks from 1 July know its days, those from 1 January
//! follow a spring that it never lived through.

use std::sync::Arc;

use rand::SeedableRng;
use rand_distr::{Distribution, Poisson};
use rand_pcg::Pcg64;
use subimago::domain::fit::ClockKind;
use subimago::domain::season::Cycle;
use subimago::model::clock::Drivers;
use subimago::model::emergence::select::gain;
use subimago::model::emergence::{Candidates, FitInput, Target, TaxonPrior};
use subimago::model::likelihood::time_of_day::Midnight;
use subimago::model::posterior::{Dataset, Observation, Outcome, Protocol, Unit};

use crate::river::normal;

const FIRST_YEAR: i32 = 2001;
const YEARS: usize = 10;
const SITES: usize = 2;
const DAYS: usize = 365;
/// The brood collects heat above this from midsummer on, 21 June: neither is what the cut supposes.
const BASE_C: f64 = 5.0;
const MIDSUMMER: usize = 172;
/// Its middle in the usual year, and its spread (logistic), days.
const MIDDLE: usize = 267;
const SPREAD_DAYS: f64 = 5.0;
/// How much a year's spring, and on its own account its summer, are warmer or colder, sd in degrees.
const SPRING_SD_C: f64 = 1.5;
const SUMMER_SD_C: f64 = 1.1;
/// Insects past one watcher in a season, and classes by how many were met on a visit.
const INSECTS: f64 = 250.0;
const CLASSES: [f64; 3] = [1.0, 4.0, 10.0];

struct Season {
    mean_c: Vec<f64>,
    middle: f64,
    observations: Vec<Observation>,
}

fn usual_c(site: usize, day: usize) -> f64 {
    10.0 - 6.5 * (std::f64::consts::TAU * (day as f64 - 24.0) / 365.0).cos() + site as f64
}

fn heat(mean_c: f64) -> f64 {
    (mean_c - BASE_C).max(0.0)
}

fn season(site: usize, spring_c: f64, summer_c: f64, shift_days: f64, rng: &mut Pcg64) -> Season {
    let mut weather = 0.0;
    let mean_c: Vec<f64> = (1..=DAYS)
        .map(|day| {
            weather = 0.9 * weather + 0.5 * normal(rng);
            let of_year = if day < MIDSUMMER { spring_c } else { summer_c };
            (usual_c(site, day) + of_year + weather).max(0.2)
        })
        .collect();
    // What the usual year at the first site collects by the middle day.
    let at_middle = heat(usual_c(0, MIDDLE));
    let need: f64 = (MIDSUMMER..=MIDDLE).map(|day| heat(usual_c(0, day))).sum::<f64>() + shift_days * at_middle;
    let mut units = 0.0;
    let done: Vec<f64> = (1..=DAYS)
        .map(|day| {
            units += if day < MIDSUMMER { 0.0 } else { heat(mean_c[day - 1]) };
            1.0 / (1.0 + ((need - units) / (SPREAD_DAYS * at_middle)).exp())
        })
        .collect();
    let middle = day_of_half(&done);
    let observations = (205 + site..345).step_by(5).map(|day| {
        let expected = INSECTS * (done[day - 1] - done[day - 2]);
        let met: f64 = Poisson::new(expected.max(1e-9)).unwrap().sample(rng);
        Observation {
            from_day: day - 1,
            to_day: day,
            outcome: Outcome::Class(CLASSES.iter().filter(|least| met >= **least).count()),
            protocol: Protocol::Visit,
            log_effort: 0.0,
            hours: None,
            x: [0.0; 3],
            weight: 1.0,
        }
    });
    let observations = observations.collect();
    Season { mean_c, middle, observations }
}

/// Real-valued day by which half of what comes has come; index 0 is day 1.
fn day_of_half(done: &[f64]) -> f64 {
    let after = done.iter().position(|share| *share >= 0.5).unwrap();
    after as f64 + (0.5 - done[after - 1]) / (done[after] - done[after - 1])
}

/// Seasons by year, then site.
fn seasons() -> Vec<Vec<Season>> {
    let mut rng = Pcg64::seed_from_u64(11);
    (0..YEARS)
        .map(|_| {
            let (spring, summer) = (SPRING_SD_C * normal(&mut rng), SUMMER_SD_C * normal(&mut rng));
            let shift = 2.0 * normal(&mut rng);
            (0..SITES).map(|site| season(site, spring, summer, shift, &mut rng)).collect()
        })
        .collect()
}

fn input(seasons: &[Vec<Season>], cycle: Cycle) -> FitInput {
    let unit = |site: usize, year: usize| {
        let one = &seasons[year][site];
        let drivers = Drivers {
            tmin_c: one.mean_c.iter().map(|c| (c - 1.0).max(0.0)).collect(),
            tmax_c: one.mean_c.iter().map(|c| c + 1.0).collect(),
            day_length_hours: (1..=DAYS)
                .map(|day| 12.0 - 4.0 * (std::f64::consts::TAU * (day as f64 + 10.0) / 365.0).cos())
                .collect(),
            idle_days: cycle.season(FIRST_YEAR + year as i32).idle_days(),
        };
        Unit { site, year, drivers: Arc::new(drivers), observations: one.observations.clone() }
    };
    let units: Vec<Unit> =
        (0..YEARS).flat_map(|year| (0..SITES).map(move |site| (site, year))).map(|(s, y)| unit(s, y)).collect();
    FitInput {
        sites: Vec::new(),
        years: (0..YEARS as i32).map(|year| FIRST_YEAR + year).collect(),
        // As for the third brood of an olive: all from halfway to the brood before it.
        prior: TaxonPrior {
            base_temp_c: (4.0, 2.0),
            median_day: Some((270.0, 25.0)),
            width_days: None,
            species: true,
            one_of_several: true,
            hour: None,
        },
        data: Dataset {
            sites: SITES,
            years: YEARS,
            climate: Drivers::mean_of(units.iter().map(|unit| unit.drivers.as_ref())),
            units,
            midnight: Midnight::Wraps,
            window: (230, usize::MAX),
        },
        has_water: true,
        hours_known: false,
        flights: None,
        cycle,
    }
}

/// Mean absolute error of the middle day of years left out, on `clock`, their water known, days.
fn middle_error(candidates: &Candidates, seasons: &[Vec<Season>], clock: ClockKind) -> f64 {
    let mut errors = Vec::new();
    for fold in &candidates.folds {
        let fit = fold.fits.iter().flatten().find(|fit| fit.clock == clock).unwrap();
        for unit in candidates.data.units.iter().filter(|unit| unit.year == fold.year) {
            let target = Target { site: Some(unit.site), ..Target::default() };
            let drawn = fit.expected(&fold.training.climate, target).unwrap();
            let done = drawn.completed(&drawn.sums(&unit.drivers, DAYS));
            errors.push((day_of_half(&done[1..]) - seasons[unit.year][unit.site].middle).abs());
        }
    }
    errors.iter().sum::<f64>() / errors.len() as f64
}

#[test]
fn clocks_from_july_know_an_autumn_brood_that_clocks_from_january_miss() {
    let seasons = seasons();
    let [january, july] =
        [Cycle::Calendar, Cycle::Autumn].map(|cycle| Candidates::fit(&input(&seasons, cycle)).unwrap());
    let heat = |c: &Candidates| middle_error(c, &seasons, ClockKind::Thermal);
    let [from_january, from_july] = [heat(&january), heat(&july)];
    let calendar = middle_error(&july, &seasons, ClockKind::Calendar);
    let scores = |c: &Candidates| {
        let left_out = c.by_year.iter().find(|one| one.clock == ClockKind::Thermal).unwrap();
        left_out.folds.iter().map(|fold| fold.iter().sum()).collect::<Vec<f64>>()
    };
    let won = gain(&scores(&july), &scores(&january));
    let weights = [&january, &july].map(|c| c.choice(None).weights);
    println!(
        "middle day of a year left out: {from_january:.1} d on heat from January, {from_july:.1} d from July, \
         {calendar:.1} d on the calendar; log score of heat {:+.1} (s.e. {:.1}) by the cut; weights {weights:?}",
        won.sum, won.se
    );
    assert!(from_july < 0.5 * from_january, "{from_july} and {from_january} d");
    assert!(from_july < 0.7 * calendar, "{from_july} and {calendar} d");
    assert!(won.sum > 2.0 * won.se, "{won:?}");
    let calendars = weights.map(|w| w[ClockKind::Calendar.index()]);
    assert!(calendars[0] > 0.5 && calendars[1] < 0.3, "{weights:?}");
}
