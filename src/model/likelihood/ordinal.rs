//! Cumulative-logit probabilities of the four abundance classes.
//!
//! P(k >= j) = expit(eta - tau_j), tau_1 < tau_2 < tau_3 (McCullagh 1980, J. R. Stat. Soc. B
//! 42:109-142; from memory). Checked against an independent table.

use crate::model::clock::expit;

/// Log-probability of a class and its derivatives.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OrdinalTerms {
    /// log P(class).
    pub log_prob: f64,
    /// d/d eta.
    pub d_eta: f64,
    /// Second derivative in eta; never positive.
    pub d2_eta: f64,
    /// d/d tau of the three thresholds.
    pub d_tau: [f64; 3],
}

/// log P(class = `class`) for `class` 0..=3.
#[must_use]
pub fn class_terms(eta: f64, tau: &[f64; 3], class: usize) -> OrdinalTerms {
    let upper_only = class == 0;
    let lower_only = class >= 3;
    // A = P(k >= class), B = P(k >= class + 1).
    let a = if upper_only { 1.0 } else { expit(eta - tau[class - 1]) };
    let b = if lower_only { 0.0 } else { expit(eta - tau[class]) };
    // log(A - B) without cancellation: A - B = A (1-B) (1 - exp(tau_k - tau_{k+1})).
    let log_prob = match (upper_only, lower_only) {
        (true, _) => log_expit(tau[0] - eta),
        (_, true) => log_expit(eta - tau[2]),
        _ => {
            let gap = tau[class] - tau[class - 1];
            log_expit(eta - tau[class - 1]) + log_expit(tau[class] - eta) + (-(-gap).exp_m1()).ln()
        }
    };
    let p = log_prob.exp().max(f64::MIN_POSITIVE);
    let mut d_tau = [0.0; 3];
    if !upper_only {
        d_tau[class - 1] = -a * (1.0 - a) / p;
    }
    if !lower_only {
        d_tau[class] = b * (1.0 - b) / p;
    }
    OrdinalTerms { log_prob, d_eta: 1.0 - a - b, d2_eta: -a * (1.0 - a) - b * (1.0 - b), d_tau }
}

/// log P(class >= 1): a note that says only "they were about".
#[must_use]
pub fn seen_terms(eta: f64, tau: &[f64; 3]) -> OrdinalTerms {
    let a = expit(eta - tau[0]);
    OrdinalTerms {
        log_prob: log_expit(eta - tau[0]),
        d_eta: 1.0 - a,
        d2_eta: -a * (1.0 - a),
        d_tau: [a - 1.0, 0.0, 0.0],
    }
}

/// Second derivatives of the log-probability of a class in eta and the thresholds.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OrdinalCurvature {
    /// In eta twice.
    pub eta: f64,
    /// In eta and each threshold.
    pub eta_tau: [f64; 3],
    /// In two thresholds.
    pub tau: [[f64; 3]; 3],
}

/// Of [`class_terms`].
#[must_use]
pub fn class_curvature(eta: f64, tau: &[f64; 3], class: usize) -> OrdinalCurvature {
    let terms = class_terms(eta, tau, class);
    let mut found = OrdinalCurvature { eta: terms.d2_eta, ..OrdinalCurvature::default() };
    // log P' in a threshold is d = -+ x (1 - x)/p; P falls with the lower threshold and rises with the upper.
    let mut at = |place: usize| {
        let x = expit(eta - tau[place]);
        found.eta_tau[place] = x * (1.0 - x);
        found.tau[place][place] = -terms.d_tau[place] * (1.0 - 2.0 * x) - terms.d_tau[place].powi(2);
    };
    if class > 0 {
        at(class - 1);
    }
    if class < 3 {
        at(class);
    }
    if (1..3).contains(&class) {
        let both = -terms.d_tau[class - 1] * terms.d_tau[class];
        (found.tau[class - 1][class], found.tau[class][class - 1]) = (both, both);
    }
    found
}

/// Of [`seen_terms`].
#[must_use]
pub fn seen_curvature(eta: f64, tau: &[f64; 3]) -> OrdinalCurvature {
    let bend = seen_terms(eta, tau).d2_eta;
    let mut found = OrdinalCurvature { eta: bend, eta_tau: [-bend, 0.0, 0.0], ..OrdinalCurvature::default() };
    found.tau[0][0] = bend;
    found
}

/// Probabilities of the four classes.
#[must_use]
pub fn class_probabilities(eta: f64, tau: &[f64; 3]) -> [f64; 4] {
    Thresholds::new(tau).probabilities(eta)
}

/// Thresholds made ready for many days: each then costs one exponential.
#[derive(Debug, Clone, Copy)]
pub struct Thresholds {
    first: f64,
    /// exp(tau_j - tau_1).
    beyond: [f64; 3],
}

impl Thresholds {
    /// Of thresholds in rising order.
    #[must_use]
    pub fn new(tau: &[f64; 3]) -> Self {
        Self { first: tau[0], beyond: [1.0, (tau[1] - tau[0]).exp(), (tau[2] - tau[0]).exp()] }
    }

    /// Probabilities of the four classes at `eta`.
    #[must_use]
    pub fn probabilities(&self, eta: f64) -> [f64; 4] {
        let odds_against = (self.first - eta).exp();
        let at_least = self.beyond.map(|beyond| 1.0 / (1.0 + odds_against * beyond));
        [1.0 - at_least[0], at_least[0] - at_least[1], at_least[1] - at_least[2], at_least[2]]
    }
}

fn log_expit(x: f64) -> f64 {
    if x >= 0.0 { -(-x).exp().ln_1p() } else { x - x.exp().ln_1p() }
}
