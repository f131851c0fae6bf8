//! Scores of drawn forecasts and outcomes.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64;
use subimago::model::scores;

use crate::dump::{self, exact};

#[test]
fn scores_of_drawn_forecasts() {
    let columns = ["score", "a", "b", "outcome", "members", "value"];
    let Some(mut table) = dump::table("scores.csv", &columns) else { return };
    let mut rng = Pcg64::seed_from_u64(11);
    let mut write = |score: &str, a: f64, b: f64, outcome: f64, members: &[f64], value: f64| {
        let members: Vec<String> = members.iter().map(|m| exact(*m)).collect();
        table
            .write_record([score, &exact(a), &exact(b), &exact(outcome), &members.join(" "), &exact(value)])
            .expect("a row");
    };
    for _ in 0..200 {
        let (mu, sd) = (rng.random_range(60.0..300.0), rng.random_range(0.2..30.0));
        let y = mu + sd * rng.random_range(-5.0..5.0);
        write("normal", mu, sd, y, &[], scores::crps_normal(mu, sd, y));
        write("logistic", mu, sd, y, &[], scores::crps_logistic(mu, sd, y));
        let (mean_log, sd_log) = (rng.random_range(4.0..7.0), rng.random_range(0.02..0.6));
        let y = (mean_log + sd_log * rng.random_range(-4.0_f64..4.0)).exp();
        write("lognormal", mean_log, sd_log, y, &[], scores::crps_lognormal(mean_log, sd_log, y));
        let size = rng.random_range(2..120);
        let members: Vec<f64> = (0..size).map(|_| rng.random_range(100.0..180.0)).collect();
        let y = rng.random_range(90.0..190.0);
        write("ensemble", 0.0, 0.0, y, &members, scores::crps_ensemble(&members, y));
        write("fair", 0.0, 0.0, y, &members, scores::crps_ensemble_fair(&members, y));
        let raw: Vec<f64> = (0..4).map(|_| rng.random_range(0.001..1.0)).collect();
        let sum: f64 = raw.iter().sum();
        let p: Vec<f64> = raw.iter().map(|v| v / sum).collect();
        let class = rng.random_range(0..4);
        write("rps", 0.0, 0.0, class as f64, &p, scores::rps(&p, class));
        let (f, o) = (rng.random_range(0.0..1.0), rng.random_bool(0.4));
        write("brier", f, 0.0, f64::from(u8::from(o)), &[], scores::brier(f, o));
    }
    table.flush().expect("the file is whole");
}
