//! Scores against `scores.csv`: closed forms and definitions, each row with its reference library
//! (scoringrules 0.10.0, properscoring 0.1, scipy 1.17.1).

use serde_json::Value;
use subimago::model::scores::*;

use crate::table::rows;

fn computed(name: &str, inputs: &Value) -> f64 {
    let x = |key: &str| inputs[key].as_f64().unwrap();
    let list =
        |key: &str| -> Vec<f64> { inputs[key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect() };
    let class = || usize::try_from(inputs["obs_class_from_0"].as_u64().unwrap()).unwrap();
    let murphy = || {
        let pairs: Vec<(f64, bool)> = list("f").into_iter().zip(list("o").into_iter().map(|o| o > 0.5)).collect();
        (pairs.clone(), brier_parts(&pairs, 10).unwrap())
    };
    match name {
        "crps_normal" => crps_normal(x("mu"), x("sd"), x("y")),
        "crps_logistic" => crps_logistic(x("mu"), x("scale"), x("y")),
        "crps_lognormal" => crps_lognormal(x("mulog"), x("sdlog"), x("y")),
        "crps_ensemble_empirical" => crps_ensemble(&list("ens"), x("y")),
        "crps_ensemble_fair" => crps_ensemble_fair(&list("ens"), x("y")),
        "rps_unnormalised" => rps(&list("p"), class()),
        "rps_normalised_by_K_minus_1" => rps(&list("p"), class()) / 3.0,
        "log_score_ordinal" => log_score(&list("p"), class()),
        "brier" => brier(x("f"), x("o") > 0.5),
        "brier_mean" => {
            let (pairs, _) = murphy();
            pairs.iter().map(|(f, o)| brier(*f, *o)).sum::<f64>() / pairs.len() as f64
        }
        "brier_reliability" => murphy().1.reliability,
        "brier_resolution" => murphy().1.resolution,
        "brier_uncertainty" => murphy().1.uncertainty,
        "brier_rel_minus_res_plus_unc" => {
            let parts = murphy().1;
            parts.reliability - parts.resolution + parts.uncertainty
        }
        "mae_days" => mean_absolute_error(&list("pred"), &list("obs")),
        "mae_skill_vs_null" => {
            let obs = list("obs");
            skill(mean_absolute_error(&list("pred"), &obs), mean_absolute_error(&list("null"), &obs))
        }
        "pit_normal" => pit_normal(x("mu"), x("sd"), x("y")),
        "pit_randomised_ordinal" => pit_randomised(&list("p"), class(), x("u")),
        "pit_nonrandomised_cdf" => pit_cdf(&list("p"), class(), x("q")),
        "crps_interval_censored_threshold_weighted" => crps_censored_normal(x("mu"), x("sd"), x("L"), x("R")),
        "interval_censored_log_score" => censored_log_score_normal(x("mu"), x("sd"), x("L"), x("R")),
        other => panic!("no score is called {other}"),
    }
}

#[test]
fn every_row_of_the_table_is_met() {
    let rows = rows("scores.csv");
    assert_eq!(rows.len(), 52);
    for row in rows {
        let inputs: Value = serde_json::from_str(&row["inputs_json"]).unwrap();
        let got = computed(&row["score"], &inputs);
        let want: f64 = row["value"].parse().unwrap();
        // The table is rounded to ten decimals.
        assert!(got == want || (got - want).abs() < 1e-8, "{} {}: {got} not {want}", row["score"], row["case"]);
    }
}
