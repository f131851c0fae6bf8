//! Record likelihoods against tables made with scipy and statsmodels alone.

use std::collections::HashMap;

use subimago::domain::fit::ClockKind;
use subimago::model::clock::ClockRun;
use subimago::model::curve::{Curve, STRAY_SHARE, with_strays};
use subimago::model::likelihood::first_sighting::first_sighting_terms;
use subimago::model::likelihood::negative_binomial::count_terms;
use subimago::model::likelihood::ordinal::{class_probabilities, class_terms};

use crate::reference::golden;
use crate::table::{number, path, rows};

fn close(got: f64, want: f64, tolerance: f64) -> bool {
    (got - want).abs() <= tolerance * want.abs().max(1.0)
}

#[test]
fn classes_agree_with_the_ordinal_table() {
    for row in rows("ordinal_likelihood.csv") {
        let tau = [number(&row, "tau1"), number(&row, "tau2"), number(&row, "tau3")];
        let (eta, class) = (number(&row, "eta"), number(&row, "class") as usize);
        let terms = class_terms(eta, &tau, class);
        assert!(close(terms.log_prob, number(&row, "log_prob"), 1e-9), "{row:?} {terms:?}");
        assert!(close(terms.d_eta, number(&row, "dlogp_deta"), 1e-9), "{row:?} {terms:?}");
        assert!(close(terms.d2_eta, number(&row, "d2logp_deta2"), 1e-9), "{row:?} {terms:?}");
        assert!(close(class_probabilities(eta, &tau)[class], number(&row, "prob"), 1e-9), "{row:?}");
    }
}

#[test]
fn traps_and_first_sightings_agree_with_the_scipy_table() {
    let golden = golden();
    let text = std::fs::read_to_string(path("trap_likelihood_parameters.json")).unwrap();
    let sets: HashMap<String, HashMap<String, f64>> = serde_json::from_str(&text).unwrap();
    let mut seen = HashMap::new();
    for row in rows("trap_likelihood.csv") {
        let p = &sets[&row["parameters"]];
        let curve = Curve { w: p["w"], ell: [p["ell1"], p["ell2"]], s: [p["s1"], p["s2"]] };
        let (site, year) = (number(&row, "site") as usize, number(&row, "year") as usize);
        let drivers = &golden.data.units.iter().find(|u| u.site == site && u.year == year).unwrap().drivers;
        let run = ClockRun::new(ClockKind::Thermal, drivers, p["tb"], 0.0, 365);
        let d1 = number(&row, "day_to") as usize;
        let d0 = row["day_from"].parse::<usize>().ok();
        *seen.entry(row["kind"].clone()).or_insert(0) += 1;
        if row["kind"] == "first_sighting" {
            let c0 = d0.map_or(0.0, |d| run.c[d]);
            let days = (d1 - d0.unwrap_or(0)) as f64;
            let terms = first_sighting_terms(c0, run.c[d1], days, p["ell1"], p["s1"]);
            assert!(close(terms.log_prob, number(&row, "log_prob"), 1e-9), "{row:?} {terms:?}");
            continue;
        }
        let d0 = d0.unwrap();
        let share = curve.share_between(run.c[d0], run.c[d1]);
        let q = with_strays(share.value, (d1 - d0) as f64);
        let mean = p["level"].exp() * number(&row, "traps") * q;
        let terms = count_terms(number(&row, "count") as u32, mean, p["theta"]);
        assert!(close(mean, number(&row, "mean"), 1e-9), "{row:?} {mean}");
        assert!(close(terms.log_prob, number(&row, "log_prob"), 1e-9), "{row:?} {terms:?}");
        let per_share = terms.d_log_mean * (1.0 - STRAY_SHARE) / q;
        let relative = |got: f64, column: &str| {
            let want = number(&row, column);
            // The table's central differences (step 1e-6) carry the rounding of F near 1: a few units of
            // 1e-16 / 2e-6, times the factor from share to log probability.
            let rounding = 4e-10 * (p["level"].exp() * number(&row, "traps") * terms.d_log_mean / mean).abs();
            (got - want).abs() <= 1e-5 * want.abs() + rounding
        };
        // Where a minimum equals the base exactly, f has a square-root cusp and the table's central
        // difference of step 1e-6 is off by up to 2e-4 of that day's slope.
        let cusps = drivers.tmin_c[..d1].iter().filter(|t| (**t - p["tb"]).abs() < 2e-6).count();
        let d_tb = per_share * (share.d_c0 * run.d_tb[d0] + share.d_c1 * run.d_tb[d1]);
        let slack = cusps as f64 * 2e-4 * per_share.abs() * (share.d_c0.abs() + share.d_c1.abs());
        let exact = relative(d_tb, "d_tb") || (d_tb - number(&row, "d_tb")).abs() <= slack;
        assert!(exact, "d_tb {row:?} {d_tb} {cusps}");
        assert!(relative(per_share * share.d_ell[0], "d_ell1"), "d_ell1 {row:?} {}", per_share * share.d_ell[0]);
        assert!(relative(per_share * share.d_s[0], "d_s1"), "d_s1 {row:?} {}", per_share * share.d_s[0]);
        assert!(relative(per_share * share.d_w, "d_w"), "d_w {row:?} {}", per_share * share.d_w);
        assert!(relative(terms.d_log_mean, "d_level"), "d_level {row:?} {}", terms.d_log_mean);
        assert!(relative(terms.d_theta, "d_theta"), "d_theta {row:?} {}", terms.d_theta);
    }
    assert_eq!((seen["trap"], seen["first_sighting"]), (202, 36));
}
