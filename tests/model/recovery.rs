//! Does the fit find the truth of simulated worlds? Twenty sets each of class visits, counted visits
//! and traps, by a simulator that shares no function with the model.
//!
//! Bounds: mean error of the base temperature under 0.3 C, of the median day under 1 d, of log sigma
//! under 0.15; 90 % intervals cover the truth in 70 to 100 % of the sets (20 sets: one standard error
//! of a cover of 0.9 is 0.07).

use rayon::prelude::*;
use subimago::domain::fit::ClockKind;
use subimago::model::laplace::{approximate, mode_from};
use subimago::model::optimise::Stop;
use subimago::model::posterior::layout::{D50, LOG_SIGMA, Layout, TB};
use subimago::model::posterior::{Objective, Prior};

use crate::reference::reference_priors;
use crate::simulated::{Records, dataset};
use crate::world::{Truth, World};

const SETS: u64 = 20;
/// Half-width of a 90 % interval, in sds of a normal.
const Z90: f64 = 1.644_853_627;

/// Errors and sds of Tb, d50 and log sigma in one set.
fn recover(truth: &Truth, records: Records, seed: u64) -> [(f64, f64); 3] {
    let world = World::new(truth.clone(), seed);
    let data = dataset(&world, records);
    let layout = Layout::of(&data);
    let mut priors = reference_priors(layout, [truth.su, truth.sv, truth.sa], 4.0, 135.0);
    if records != Records::Classes {
        priors.0[layout.alpha()] = Prior::normal(0.0, 5.0);
        priors.0[layout.log_theta()] = Prior::normal(0.0, 1.0);
    }
    let objective = Objective { clock: ClockKind::Thermal, data: &data, priors: &priors, two_parts: false };
    let search = Stop { max_evaluations: 120, gradient: 1e-3 };
    let starts = [-15.0, 0.0, 15.0].map(|offset| {
        let mut start = priors.means();
        start[D50] += offset;
        mode_from(&objective, &start, search)
    });
    let best = starts.into_iter().min_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
    let fit = approximate(&objective, &best.0, Stop { max_evaluations: 300, gradient: 1e-6 }).unwrap();
    let sds = fit.sds();
    [(TB, truth.base_temp_c), (D50, truth.d50), (LOG_SIGMA, truth.sigma.ln())]
        .map(|(index, truth)| (fit.mode[index] - truth, sds[index]))
}

fn check(records: Records) {
    let truth = Truth::thermal();
    let sets: Vec<[(f64, f64); 3]> = (1..=SETS).into_par_iter().map(|seed| recover(&truth, records, seed)).collect();
    for (k, (name, bound)) in [("Tb", 0.3), ("d50", 1.0), ("log sigma", 0.15)].into_iter().enumerate() {
        let n = SETS as f64;
        let mean = sets.iter().map(|s| s[k].0).sum::<f64>() / n;
        let rmse = (sets.iter().map(|s| s[k].0.powi(2)).sum::<f64>() / n).sqrt();
        let cover = sets.iter().filter(|s| s[k].0.abs() <= Z90 * s[k].1).count() as f64 / n;
        println!("{records:?} {name}: mean error {mean:.3}, RMSE {rmse:.3}, 90 % cover {cover:.2}");
        assert!(mean.abs() < bound, "{records:?} {name}: mean error {mean}");
        assert!(cover >= 0.70, "{records:?} {name}: cover {cover}");
    }
}

#[test]
fn class_visits_recover_the_truth() {
    check(Records::Classes);
}

#[test]
fn counted_visits_recover_the_truth() {
    check(Records::CountedVisits);
}

#[test]
fn traps_recover_the_truth() {
    check(Records::Traps);
}
