//! All four clocks against an independent implementation: objective, gradient, mode, sds, evidence.
//!
//! Source: values made with numpy/scipy from the published model form (151 records, 3 sites, 5
//! years), without this code.

use serde_json::Value;
use subimago::domain::fit::ClockKind;
use subimago::model::clock::ClockRun;
use subimago::model::laplace::approximate;
use subimago::model::optimise::Stop;
use subimago::model::posterior::data::RAIN;
use subimago::model::posterior::layout::BETA;
use subimago::model::posterior::{Layout, Objective, Workspace};

use crate::reference::{golden, reference_priors};

/// A list of the reference by parameter, which knows no rain: `unused` stands in its place.
fn list(value: &Value, unused: f64) -> Vec<f64> {
    let mut list: Vec<f64> = value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect();
    list.insert(BETA + RAIN, unused);
    list
}

#[test]
fn value_gradient_mode_and_evidence_agree_on_all_four_clocks() {
    let golden = golden();
    let layout = Layout::of(&golden.data);
    let priors = reference_priors(layout, [0.05, 0.03, 0.6], 4.0, 135.0);
    let n = layout.core_len();
    assert_eq!(n, 25, "24 of the reference, and rain, which is held at zero");
    for (clock, word) in ClockKind::WORDS {
        let want = &golden.expected["models"][word];
        let objective = Objective { clock, data: &golden.data, priors: &priors, two_parts: false };
        let mut theta = priors.means();
        theta[..n].copy_from_slice(&list(&want["test_point"], 0.0));
        let mut gradient = vec![0.0; layout.len()];
        let value = objective.value_and_gradient(&theta, &mut gradient, &mut Workspace::default());
        let expected = want["neg_log_post"].as_f64().unwrap();
        assert!(((value - expected) / expected).abs() < 1e-8, "{word}: {value} against {expected}");
        let expected = list(&want["gradient"], 0.0);
        let size = expected.iter().fold(0.0_f64, |m, g| m.max(g.abs()));
        for i in 0..n {
            assert!((gradient[i] - expected[i]).abs() < 1e-8 * size.max(1.0), "{word} gradient {i}: {gradient:?}");
        }

        let start = priors.means();
        let laplace = approximate(&objective, &start, Stop { max_evaluations: 500, gradient: 1e-7 }).unwrap();
        let (mode, sd) = (list(&want["mode"], 0.0), list(&want["posterior_sd"], f64::INFINITY));
        let got = laplace.sds();
        for i in 0..n {
            assert!(
                (laplace.mode[i] - mode[i]).abs() < 1e-3 * sd[i],
                "{word} mode {i}: {} {}",
                laplace.mode[i],
                mode[i]
            );
            if i == BETA + RAIN {
                continue;
            }
            assert!((got[i] / sd[i] - 1.0).abs() < 5e-3, "{word} sd {i}: {} {}", got[i], sd[i]);
        }
        let evidence = want["log_evidence_laplace"].as_f64().unwrap();
        assert!((laplace.log_evidence - evidence).abs() < 0.01, "{word}: {} {evidence}", laplace.log_evidence);
        println!("{word}: {} evaluations", laplace.evaluations);
    }
}

/// The reference climate is one clock run on mean extremes. Built as the mean of the clock sums it
/// would be another number: this test shows that the golden test above can tell.
#[test]
fn a_reference_clock_built_as_the_mean_of_sums_is_told_apart() {
    let golden = golden();
    let day = 135;
    let right = ClockRun::new(ClockKind::Thermal, &golden.data.climate, 4.0, 12.5, 365).c[day];
    let sums = golden.seasons.iter().map(|s| ClockRun::new(ClockKind::Thermal, s, 4.0, 12.5, 365).c[day]);
    let wrong = sums.sum::<f64>() / golden.seasons.len() as f64;
    assert!((right - wrong).abs() > 1.0, "mean climate {right}, mean of sums {wrong}");
}
