//! First sighting of a season in (L, R]: interval-censored, with a small share of oversights.
//!
//! log[0.97 (Phi((ln C_R - ell)/s) - Phi((ln C_L - ell)/s)) + 0.03 (R - L)/365]; no earlier look: C_L = 0.

use statrs::function::erf::erfc;

use super::normal_interval::NormalCurvature;

/// Share of first sightings that follow the curve; the rest fall on any day.
pub const REGULAR_SHARE: f64 = 0.97;

/// Log-probability of a first sighting and its derivatives.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FirstTerms {
    /// log P.
    pub log_prob: f64,
    /// d/d ell.
    pub d_ell: f64,
    /// d/d s.
    pub d_s: f64,
    /// d/d C_L.
    pub d_c0: f64,
    /// d/d C_R.
    pub d_c1: f64,
}

/// `c0`, `c1` are clock readings at L and R, `days` = R - L (R when nobody looked before).
#[must_use]
pub fn first_sighting_terms(c0: f64, c1: f64, days: f64, ell: f64, s: f64) -> FirstTerms {
    let (upper, upper_density, upper_z) = end(c1, ell, s);
    let (lower, lower_density, lower_z) = end(c0, ell, s);
    let p = REGULAR_SHARE * (upper - lower) + (1.0 - REGULAR_SHARE) * days / 365.0;
    let scale = REGULAR_SHARE / (p * s);
    let slope = |density: f64, c: f64| if c > 0.0 { density / c } else { 0.0 };
    FirstTerms {
        log_prob: p.ln(),
        d_ell: -scale * (upper_density - lower_density),
        d_s: -scale * (upper_density * upper_z - lower_density * lower_z),
        d_c0: -scale * slope(lower_density, c0),
        d_c1: scale * slope(upper_density, c1),
    }
}

/// Second derivatives of log P in ell and s.
#[must_use]
pub fn first_sighting_curvature(c0: f64, c1: f64, days: f64, ell: f64, s: f64) -> NormalCurvature {
    let terms = first_sighting_terms(c0, c1, days, ell, s);
    let weight = REGULAR_SHARE / terms.log_prob.exp();
    let mut mass = NormalCurvature::default();
    for (sign, c) in [(1.0, c1), (-1.0, c0)] {
        let (_, density, z) = end(c, ell, s);
        mass.add(sign * weight, z, density, s);
    }
    NormalCurvature {
        centre: mass.centre - terms.d_ell.powi(2),
        mixed: mass.mixed - terms.d_ell * terms.d_s,
        spread: mass.spread - terms.d_s.powi(2),
    }
}

/// Phi, its density and z at clock reading `c`.
fn end(c: f64, ell: f64, s: f64) -> (f64, f64, f64) {
    if c <= 0.0 {
        return (0.0, 0.0, 0.0);
    }
    let z = (c.ln() - ell) / s;
    (normal_cdf(z), normal_density(z), z)
}

/// Standard normal distribution function.
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erfc(-z / std::f64::consts::SQRT_2)
}

/// Standard normal density.
#[must_use]
pub fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}
