//! The continuous ranked probability score: the integral over t of (F(t) - 1[t >= y])^2.

use std::f64::consts::{FRAC_1_SQRT_2, PI, SQRT_2};

use statrs::function::erf::erfc;

fn cdf(z: f64) -> f64 {
    0.5 * erfc(-z * FRAC_1_SQRT_2)
}

fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// Of a normal forecast with mean `mu` and standard deviation `sd`, in the unit of `y`.
#[must_use]
pub fn crps_normal(mu: f64, sd: f64, y: f64) -> f64 {
    let z = (y - mu) / sd;
    sd * (z * (2.0 * cdf(z) - 1.0) + 2.0 * density(z) - 1.0 / PI.sqrt())
}

/// Of a logistic forecast with mean `mu` and scale `scale`.
#[must_use]
pub fn crps_logistic(mu: f64, scale: f64, y: f64) -> f64 {
    let z = (y - mu) / scale;
    // -2 log F(z), without overflow for large |z|.
    let minus_log_cdf = (-z).max(0.0) + (-z.abs()).exp().ln_1p();
    scale * (z + 2.0 * minus_log_cdf - 1.0)
}

/// Of a lognormal forecast: the log of y is normal with `mean_log` and `sd_log`.
#[must_use]
pub fn crps_lognormal(mean_log: f64, sd_log: f64, y: f64) -> f64 {
    let w = (y.ln() - mean_log) / sd_log;
    let mean = (mean_log + 0.5 * sd_log * sd_log).exp();
    y * (2.0 * cdf(w) - 1.0) - 2.0 * mean * (cdf(w - sd_log) + cdf(sd_log * FRAC_1_SQRT_2) - 1.0)
}

/// Of an ensemble taken as it stands: mean |x - y| - sum |x - x'| / (2 n^2). NaN when empty.
#[must_use]
pub fn crps_ensemble(members: &[f64], y: f64) -> f64 {
    let n = members.len() as f64;
    distance(members, y) - spread(members) / (2.0 * n * n)
}

/// Of the distribution that an ensemble of random draws stands for (denominator 2 n (n - 1)).
#[must_use]
pub fn crps_ensemble_fair(members: &[f64], y: f64) -> f64 {
    let n = members.len() as f64;
    distance(members, y) - spread(members) / (2.0 * n * (n - 1.0))
}

fn distance(members: &[f64], y: f64) -> f64 {
    members.iter().map(|x| (x - y).abs()).sum::<f64>() / members.len() as f64
}

/// Sum of |x - x'| over all ordered pairs, from the sorted members: 2 sum of (2 i - n + 1) x_i.
fn spread(members: &[f64]) -> f64 {
    let mut sorted = members.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len() as f64;
    2.0 * sorted.iter().enumerate().map(|(i, x)| (2.0 * i as f64 - n + 1.0) * x).sum::<f64>()
}

/// F(y) of a normal forecast.
#[must_use]
pub fn pit_normal(mu: f64, sd: f64, y: f64) -> f64 {
    cdf((y - mu) / sd)
}

/// Of a normal forecast when y is only known to lie in (`after`, `by`]: the integral leaves that
/// interval out (weight 0 there).
#[must_use]
pub fn crps_censored_normal(mu: f64, sd: f64, after: f64, by: f64) -> f64 {
    let (low, high) = ((after - mu) / sd, (by - mu) / sd);
    sd * (below(low) + below(-high))
}

/// Integral of Phi^2 from minus infinity to z: z Phi^2 + 2 phi Phi - Phi(sqrt 2 z)/sqrt pi.
fn below(z: f64) -> f64 {
    let (p, d) = (cdf(z), density(z));
    z * p * p + 2.0 * d * p - cdf(SQRT_2 * z) / PI.sqrt()
}

/// -log(F(`by`) - F(`after`)) of a normal forecast.
#[must_use]
pub fn censored_log_score_normal(mu: f64, sd: f64, after: f64, by: f64) -> f64 {
    -(cdf((by - mu) / sd) - cdf((after - mu) / sd)).ln()
}
