//! Drawn classes with one predictor: the log likelihood at given points, and where it is highest.

use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;
use subimago::model::likelihood::ordinal::{class_probabilities, class_terms};
use subimago::model::optimise::{Stop, lbfgs};

use crate::dump::{self, exact};

const RECORDS: usize = 600;
/// Slope and thresholds of the sets; the last has rare upper classes.
const TRUTHS: [[f64; 4]; 4] =
    [[1.0, -0.5, 0.6, 1.9], [-0.7, -1.8, 0.0, 0.4], [0.0, -1.0, 0.2, 2.0], [2.2, 1.5, 3.6, 5.2]];

/// -log likelihood and its slope in slope, tau1 and the logs of the gaps.
fn value_and_slope(records: &[(f64, usize)], at: &[f64], along: &mut [f64]) -> f64 {
    let gaps = [at[2].exp(), at[3].exp()];
    let tau = [at[1], at[1] + gaps[0], at[1] + gaps[0] + gaps[1]];
    along.fill(0.0);
    let mut sum = 0.0;
    for &(x, class) in records {
        let terms = class_terms(at[0] * x, &tau, class);
        sum -= terms.log_prob;
        along[0] -= terms.d_eta * x;
        along[1] -= terms.d_tau.iter().sum::<f64>();
        along[2] -= (terms.d_tau[1] + terms.d_tau[2]) * gaps[0];
        along[3] -= terms.d_tau[2] * gaps[1];
    }
    sum
}

#[test]
fn classes_with_one_predictor() {
    let columns = ["set", "kind", "x", "class", "slope", "tau1", "log_gap2", "log_gap3", "log_likelihood"];
    let Some(mut table) = dump::table("ordinal.csv", &columns) else { return };
    let mut rng = Pcg64::seed_from_u64(12);
    for (set, [slope, tau1, tau2, tau3]) in TRUTHS.into_iter().enumerate() {
        let set = set.to_string();
        let mut records = Vec::new();
        for _ in 0..RECORDS {
            let x: f64 = StandardNormal.sample(&mut rng);
            let u: f64 = rng.random_range(0.0..1.0);
            let p = class_probabilities(slope * x, &[tau1, tau2, tau3]);
            let class = (0..3).take_while(|k| u > p[..=*k].iter().sum::<f64>()).count();
            table.write_record([&set, "record", &exact(x), &class.to_string(), "", "", "", "", ""]).expect("a row");
            records.push((x, class));
        }
        let mut along = [0.0; 4];
        let truth = vec![slope, tau1, (tau2 - tau1).ln(), (tau3 - tau2).ln()];
        let found = lbfgs(vec![0.0, -1.0, 0.0, 0.0], Stop { max_evaluations: 500, gradient: 1e-8 }, |at, along| {
            value_and_slope(&records, at, along)
        });
        for (kind, at) in [("point", &truth), ("highest", &found.x)] {
            let log_likelihood = exact(-value_and_slope(&records, at, &mut along));
            let [a, b, c, d] = [0, 1, 2, 3].map(|k| exact(at[k]));
            table.write_record([&set, kind, "", "", &a, &b, &c, &d, &log_likelihood]).expect("a row");
        }
    }
    table.flush().expect("the file is whole");
}
