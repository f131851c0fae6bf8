//! Negative-binomial counts with mean m and dispersion theta: variance m + m^2/theta.

use statrs::function::gamma::{digamma, ln_gamma};

/// Log-probability of a count and its derivatives.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CountTerms {
    /// log P(n).
    pub log_prob: f64,
    /// d/d log m = theta (n - m)/(theta + m).
    pub d_log_mean: f64,
    /// d/d theta.
    pub d_theta: f64,
}

/// Second derivative of log P(n) in log m: -m theta (theta + n)/(theta + m)^2.
#[must_use]
pub fn count_curvature(count: u32, mean: f64, theta: f64) -> f64 {
    -mean * theta * (theta + f64::from(count)) / (theta + mean).powi(2)
}

/// log P(n) = lgamma(n+theta) - lgamma(theta) - lgamma(n+1) + theta log(theta/(theta+m)) + n log(m/(theta+m)).
#[must_use]
pub fn count_terms(count: u32, mean: f64, theta: f64) -> CountTerms {
    let n = f64::from(count);
    let log_zero_part = -theta * (mean / theta).ln_1p();
    let (binomial, d_binomial) = if count == 0 {
        (0.0, 0.0)
    } else {
        (ln_gamma(n + theta) - ln_gamma(theta) - ln_gamma(n + 1.0), digamma(n + theta) - digamma(theta))
    };
    let tail = if count == 0 { 0.0 } else { -n * (theta / mean).ln_1p() };
    CountTerms {
        log_prob: binomial + log_zero_part + tail,
        d_log_mean: theta * (n - mean) / (theta + mean),
        d_theta: d_binomial - (mean / theta).ln_1p() + (mean - n) / (theta + mean),
    }
}
