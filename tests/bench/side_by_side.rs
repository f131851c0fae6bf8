//! The same work by this program and by numpy and scipy, in one run, on one simulated set of some 800
//! class visits: value and gradient, one fit, the sds of effects, and years left out on four clocks.
//!
//! Run with `SUBIMAGO_BENCH_PYTHON=PYTHON cargo bench --bench side_by_side`, PYTHON an interpreter that
//! has numpy and scipy. The other side is `side_by_side.py` beside this file; it first shows that it
//! computes the same density.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::pedantic,
    clippy::type_complexity,
    reason = "a bench stops at the first surprise, says what it measured, and is read once"
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

use std::path::Path;
use std::process::Command;
use std::time::Instant;

use rayon::prelude::*;
use serde_json::{Value, json};
use subimago::domain::fit::ClockKind;
use subimago::domain::season::Cycle;
use subimago::model::clock::ClockRun;
use subimago::model::emergence::fit_taxon::FitInput;
use subimago::model::emergence::folds::{score_years, year_folds};
use subimago::model::emergence::prior::{TaxonPrior, log_slope_per_day, priors};
use subimago::model::emergence::{EffectSds, FittedClock, fit_clock};
use subimago::model::laplace::approximate;
use subimago::model::optimise::Stop;
use subimago::model::posterior::layout::{D50, TB};
use subimago::model::posterior::{Dataset, Layout, Objective, Outcome, Priors, Workspace};

use simulated::{Records, dataset};
use world::{Truth, World};

const TAXON: TaxonPrior = TaxonPrior {
    width_days: None,
    base_temp_c: (4.0, 2.0),
    median_day: Some((135.0, 20.0)),
    species: true,
    one_of_several: false,
    hour: Some((14.0, 3.0)),
};
const STEPS: [&str; 4] = ["value_and_gradient", "fit", "sds_of_effects", "four_clock_hindcast"];

fn main() {
    let world = World::new(Truth::thermal(), 1);
    let data = dataset(&world, Records::Classes);
    println!("{} visits, {} site-years, {} years", data.len(), data.units.len(), data.years);
    let input = FitInput {
        sites: Vec::new(),
        cycle: Cycle::Calendar,
        years: (2001..2001 + data.years as i32).collect(),
        prior: TAXON,
        has_water: true,
        hours_known: true,
        data,
        flights: None,
    };
    let ours = [value_and_gradient(&input.data), fit(&input.data), sds(&input.data), hindcast(&input)];

    let folder = tempfile::tempdir().unwrap();
    let problem = folder.path().join("problem.json");
    std::fs::write(&problem, serde_json::to_string(&described(&input.data)).unwrap()).unwrap();
    let theirs = by_python(&problem);
    println!("{:<22} {:>12} {:>12} {:>8}", "median seconds", "here", "numpy", "ratio");
    for (step, here) in STEPS.into_iter().zip(ours) {
        let there = theirs[step].as_f64().unwrap();
        println!("{step:<22} {here:>12.6} {there:>12.6} {:>8.1}", there / here);
    }
}

/// Median seconds of `times` calls.
fn median(times: usize, mut work: impl FnMut()) -> f64 {
    work();
    let mut seconds: Vec<f64> = (0..times)
        .map(|_| {
            let began = Instant::now();
            work();
            began.elapsed().as_secs_f64()
        })
        .collect();
    seconds.sort_by(f64::total_cmp);
    seconds[times / 2]
}

fn slope(clock: ClockKind, data: &Dataset) -> f64 {
    let reference = ClockRun::new(clock, &data.climate, TAXON.base_temp_c.0, 12.5, data.climate.len());
    log_slope_per_day(&reference, TAXON.median_day_for(data).0).unwrap()
}

fn first_priors(clock: ClockKind, data: &Dataset) -> Priors {
    priors(clock, data, &TAXON, false, &EffectSds::start(slope(clock, data))).unwrap()
}

fn value_and_gradient(data: &Dataset) -> f64 {
    let priors = first_priors(ClockKind::Thermal, data);
    let objective = Objective { clock: ClockKind::Thermal, data, priors: &priors, two_parts: false };
    let (mut theta, mut work) = (priors.means(), Workspace::default());
    let mut gradient = vec![0.0; theta.len()];
    median(500, || {
        // A new base temperature every time, so that no clock run is remembered.
        theta[TB] += 1e-6;
        std::hint::black_box(objective.value_and_gradient(&theta, &mut gradient, &mut work));
    })
}

/// The mode under given sds from the prior means, and the curvature there.
fn fit(data: &Dataset) -> f64 {
    let priors = first_priors(ClockKind::Thermal, data);
    let objective = Objective { clock: ClockKind::Thermal, data, priors: &priors, two_parts: false };
    median(10, || {
        approximate(&objective, &priors.means(), Stop { max_evaluations: 300, gradient: 1e-5 }).unwrap();
    })
}

/// Five starts, the choice among their ends, and the sds of effects.
fn sds(data: &Dataset) -> f64 {
    median(5, || {
        fit_clock(ClockKind::Thermal, data, &TAXON, false).unwrap();
    })
}

/// Every year left out in turn on four clocks: fits under the sds of all years, scores of the records left out.
fn hindcast(input: &FitInput) -> f64 {
    let clocks: Vec<ClockKind> = ClockKind::WORDS.iter().map(|(clock, _)| *clock).collect();
    let full = || -> Vec<FittedClock> {
        clocks.par_iter().map(|&clock| fit_clock(clock, &input.data, &TAXON, false).unwrap()).collect()
    };
    let fits = full();
    let four = median(3, || drop(full()));
    println!("four clocks fitted to all years first: {four:.3} s");
    let folds = year_folds(&fits, input, &input.data);
    let scoring = median(3, || drop(score_years(&folds, &clocks, input, &input.data)));
    println!("of the hindcast, scores of the records left out: {scoring:.3} s");
    median(3, || {
        let folds = year_folds(&fits, input, &input.data);
        let (scores, _) = score_years(&folds, &clocks, input, &input.data);
        assert_eq!(scores.len(), clocks.len());
    })
}

/// The set, the priors and the density at one point per clock, for the other side.
fn described(data: &Dataset) -> Value {
    let layout = Layout::of(data);
    // What one part of class visits uses of the layout, in its order.
    let used: Vec<usize> = (0..layout.core_len())
        .chain((0..layout.units).map(|i| layout.shift(i)))
        .chain((0..layout.units).map(|i| layout.level(i)))
        .collect();
    let clocks: serde_json::Map<String, Value> = ClockKind::WORDS
        .iter()
        .map(|&(clock, word)| {
            let priors = first_priors(clock, data);
            let objective = Objective { clock, data, priors: &priors, two_parts: false };
            let mut theta = priors.means();
            theta[D50] += 2.5;
            (0..layout.units).for_each(|i| theta[layout.shift(i)] = 0.02 * (i as f64).sin());
            let mut gradient = vec![0.0; theta.len()];
            let value = objective.value_and_gradient(&theta, &mut gradient, &mut Workspace::default());
            let of = |f: &dyn Fn(usize) -> f64| -> Vec<f64> { used.iter().map(|&i| f(i)).collect() };
            let (scales, start) = (EffectSds::scales(slope(clock, data)), EffectSds::start(slope(clock, data)));
            let sds = |e: EffectSds| vec![e.site_shift, e.year_shift, e.site_level, e.unit_shift, e.unit_level];
            let described = json!({
                "mean": of(&|i| priors.0[i].mean),
                "sd": of(&|i| priors.0[i].sd),
                "free": used.iter().map(|&i| priors.0[i].free).collect::<Vec<_>>(),
                "scales": sds(scales),
                "start": sds(start),
                "point": of(&|i| theta[i]),
                "value": value,
                "gradient": of(&|i| gradient[i]),
            });
            (word.to_owned(), described)
        })
        .collect();
    let visits: Vec<Value> = data
        .units
        .iter()
        .enumerate()
        .flat_map(|(index, unit)| {
            unit.observations.iter().map(move |o| {
                let (hours, Outcome::Class(class)) = (o.hours.unwrap(), o.outcome) else { panic!("a class visit") };
                let mut row = vec![index as f64, o.to_day as f64, class as f64, o.log_effort];
                row.extend([hours.start, hours.end, hours.water_c]);
                row.extend(o.x);
                json!(row)
            })
        })
        .collect();
    json!({
        "sites": data.sites,
        "years": data.years,
        "units": data.units.iter().map(|u| [u.site, u.year]).collect::<Vec<_>>(),
        "tmin_c": data.units.iter().map(|u| &u.drivers.tmin_c).collect::<Vec<_>>(),
        "tmax_c": data.units.iter().map(|u| &u.drivers.tmax_c).collect::<Vec<_>>(),
        "day_length_hours": data.climate.day_length_hours,
        "climate_tmin_c": data.climate.tmin_c,
        "climate_tmax_c": data.climate.tmax_c,
        "visits": visits,
        "clocks": clocks,
    })
}

fn by_python(problem: &Path) -> Value {
    let python = std::env::var_os("SUBIMAGO_BENCH_PYTHON").unwrap_or_else(|| "python3".into());
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bench/side_by_side.py");
    let output = Command::new(&python).arg(script).arg(problem).output().unwrap();
    eprint!("{}", String::from_utf8_lossy(&output.stderr));
    assert!(output.status.success(), "{} ended with {:?}", python.display(), output.status.code());
    serde_json::from_slice(&output.stdout).unwrap()
}
