//! All four clocks against an independent implementation: objective, gradient, mode, sds, evidence.
//!
//! Source: values made with numpy/scipy from the published model form (151 records, 3 sites, 5
//! years), without this code.

use std::collections::HashMap;
use std::sync::Arc;

use serde_json::Value;
use subimago::domain::fit::ClockKind;
use subimago::model::clock::{ClockRun, Drivers};
use subimago::model::laplace::approximate;
use subimago::model::likelihood::time_of_day::Midnight;
use subimago::model::optimise::Stop;
use subimago::model::posterior::layout::{D50, DC, H0, H1, LOG_B, LOG_GAPS, LOG_SH, LOG_SIGMA, Layout, TAU1, TB};
use subimago::model::posterior::{Dataset, Hours, Objective, Observation, Outcome, Prior, Priors, Unit, Workspace};

use crate::table::{number, path, rows};

pub(crate) struct Golden {
    pub(crate) data: Dataset,
    pub(crate) seasons: Vec<Arc<Drivers>>,
    expected: Value,
}

pub(crate) fn golden() -> Golden {
    let expected: Value =
        serde_json::from_str(&std::fs::read_to_string(path("model_golden/expected.json")).unwrap()).unwrap();
    let day_length_hours: Vec<f64> = rows("model_golden/day_length.csv").iter().map(|r| number(r, "hours")).collect();
    let mut drivers: HashMap<(usize, usize), Drivers> = HashMap::new();
    for row in rows("model_golden/temperature.csv") {
        let key = (number(&row, "site") as usize, number(&row, "year") as usize);
        let season = drivers.entry(key).or_default();
        season.tmin_c.push(number(&row, "tmin_c"));
        season.tmax_c.push(number(&row, "tmax_c"));
        assert_eq!(season.tmin_c.len(), number(&row, "doy") as usize);
    }
    let mut units: Vec<Unit> = Vec::new();
    let mut keys: Vec<(usize, usize)> = drivers.keys().copied().collect();
    keys.sort_unstable();
    for key in &keys {
        let mut season = drivers.remove(key).unwrap();
        season.day_length_hours.clone_from(&day_length_hours);
        units.push(Unit { site: key.0, year: key.1, drivers: Arc::new(season), observations: Vec::new() });
    }
    for row in rows("model_golden/records.csv") {
        let key = (number(&row, "site") as usize, number(&row, "year") as usize);
        let day = number(&row, "doy") as usize;
        let unit = units.iter_mut().find(|u| (u.site, u.year) == key).unwrap();
        unit.observations.push(Observation {
            from_day: day - 1,
            to_day: day,
            outcome: Outcome::Class(number(&row, "abundance_class") as usize),
            log_effort: number(&row, "log_effort_term"),
            hours: Some(Hours {
                start: number(&row, "hour_start"),
                end: number(&row, "hour_end"),
                water_c: number(&row, "water_temp_mean_c"),
            }),
            x: [number(&row, "cloud"), number(&row, "flow_z")],
        });
    }
    let seasons: Vec<Arc<Drivers>> = units.iter().map(|u| u.drivers.clone()).collect();
    let climate = Drivers::mean_of(units.iter().map(|u| u.drivers.as_ref()));
    Golden { data: Dataset { sites: 3, years: 5, units, climate, midnight: Midnight::Ends }, seasons, expected }
}

/// The priors of the reference form: normals as printed, everything of other data kinds held.
pub(crate) fn reference_priors(layout: Layout, effects: [f64; 3], tb: f64, d50: f64) -> Priors {
    let mut priors = vec![Prior::fixed(0.0); layout.len()];
    priors[TB] = Prior::normal(tb, 2.0);
    priors[DC] = Prior::normal(12.5, 1.0);
    priors[D50] = Prior::normal(d50, 20.0);
    priors[LOG_SIGMA] = Prior::normal(0.08_f64.ln(), 0.5);
    priors[LOG_B] = Prior::normal(0.0, 0.3);
    priors[TAU1] = Prior::normal(-2.5, 3.0);
    priors[LOG_GAPS] = Prior::normal(0.5, 0.7);
    priors[LOG_GAPS + 1] = Prior::normal(0.5, 0.7);
    priors[H0] = Prior::normal(14.0, 3.0);
    priors[H1] = Prior::normal(0.0, 0.3);
    priors[LOG_SH] = Prior::normal(1.5_f64.ln(), 0.5);
    priors[subimago::model::posterior::layout::BETA] = Prior::normal(0.0, 1.0);
    priors[subimago::model::posterior::layout::BETA + 1] = Prior::normal(0.0, 1.0);
    (0..layout.sites).for_each(|i| priors[layout.u(i)] = Prior::effect(effects[0]));
    (0..layout.years).for_each(|i| priors[layout.v(i)] = Prior::effect(effects[1]));
    (0..layout.sites).for_each(|i| priors[layout.a(i)] = Prior::effect(effects[2]));
    Priors(priors)
}

fn list(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

#[test]
fn value_gradient_mode_and_evidence_agree_on_all_four_clocks() {
    let golden = golden();
    let layout = Layout::of(&golden.data);
    let priors = reference_priors(layout, [0.05, 0.03, 0.6], 4.0, 135.0);
    let n = layout.core_len();
    assert_eq!(n, 24);
    for (clock, word) in ClockKind::WORDS {
        let want = &golden.expected["models"][word];
        let objective = Objective { clock, data: &golden.data, priors: &priors, two_parts: false };
        let mut theta = priors.means();
        theta[..n].copy_from_slice(&list(&want["test_point"]));
        let mut gradient = vec![0.0; layout.len()];
        let value = objective.value_and_gradient(&theta, &mut gradient, &mut Workspace::default());
        let expected = want["neg_log_post"].as_f64().unwrap();
        assert!(((value - expected) / expected).abs() < 1e-8, "{word}: {value} against {expected}");
        let expected = list(&want["gradient"]);
        let size = expected.iter().fold(0.0_f64, |m, g| m.max(g.abs()));
        for i in 0..n {
            assert!((gradient[i] - expected[i]).abs() < 1e-8 * size.max(1.0), "{word} gradient {i}: {gradient:?}");
        }

        let start = priors.means();
        let laplace = approximate(&objective, &start, Stop { max_evaluations: 500, gradient: 1e-7 }).unwrap();
        let (mode, sd) = (list(&want["mode"]), list(&want["posterior_sd"]));
        let got = laplace.sds();
        for i in 0..n {
            assert!(
                (laplace.mode[i] - mode[i]).abs() < 1e-3 * sd[i],
                "{word} mode {i}: {} {}",
                laplace.mode[i],
                mode[i]
            );
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
