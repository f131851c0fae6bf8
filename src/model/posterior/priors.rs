//! Independent normal priors, and which parameters are free.

use std::f64::consts::PI;

/// Normal prior of one parameter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Mean; also the fixed value of a parameter that is not free.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
    /// Whether the parameter is estimated.
    pub free: bool,
    /// Whether ln sd belongs to the value: true for effects, whose sd may itself be estimated.
    pub keep_log_sd: bool,
}

impl Prior {
    /// A free parameter.
    #[must_use]
    pub fn normal(mean: f64, sd: f64) -> Self {
        Self { mean, sd, free: true, keep_log_sd: false }
    }

    /// A free effect around zero.
    #[must_use]
    pub fn effect(sd: f64) -> Self {
        Self { mean: 0.0, sd, free: true, keep_log_sd: true }
    }

    /// A parameter held at `value`.
    #[must_use]
    pub fn fixed(value: f64) -> Self {
        Self { mean: value, sd: 1.0, free: false, keep_log_sd: false }
    }
}

/// One prior per parameter, in the order of the layout.
#[derive(Debug, Clone, PartialEq)]
pub struct Priors(pub Vec<Prior>);

impl Priors {
    /// Indices of the free parameters.
    #[must_use]
    pub fn free(&self) -> Vec<usize> {
        (0..self.0.len()).filter(|&i| self.0[i].free).collect()
    }

    /// The prior means.
    #[must_use]
    pub fn means(&self) -> Vec<f64> {
        self.0.iter().map(|p| p.mean).collect()
    }

    /// What [`Self::add`] leaves out of -log prior. It says nothing about where the parameters lie, but counts where fits
    /// with different numbers of them are compared.
    #[must_use]
    pub fn left_out(&self) -> f64 {
        let one = |prior: &Prior| 0.5 * (2.0 * PI).ln() + if prior.keep_log_sd { 0.0 } else { prior.sd.ln() };
        self.0.iter().filter(|prior| prior.free).map(one).sum()
    }

    /// Adds -log prior (without -log(2 pi)/2 per normal, and without ln sd unless kept) to the
    /// returned value and its gradient to `gradient`.
    pub fn add(&self, theta: &[f64], gradient: &mut [f64]) -> f64 {
        let mut value = 0.0;
        for ((prior, &x), g) in self.0.iter().zip(theta).zip(gradient) {
            if !prior.free {
                continue;
            }
            let z = (x - prior.mean) / prior.sd;
            value += 0.5 * z * z + if prior.keep_log_sd { prior.sd.ln() } else { 0.0 };
            *g += z / prior.sd;
        }
        value
    }
}

#[cfg(test)]
mod tests {
    use statrs::distribution::{Continuous, Normal};

    use super::*;

    #[test]
    fn with_what_is_left_out_the_value_is_the_whole_density() {
        let priors = Priors(vec![Prior::normal(2.0, 0.5), Prior::effect(3.0), Prior::fixed(1.0)]);
        let at = [2.3, -1.0, 7.0];
        let density = |mean, sd, x| Normal::new(mean, sd).unwrap().ln_pdf(x);
        let whole = density(2.0, 0.5, 2.3) + density(0.0, 3.0, -1.0);
        let value = priors.add(&at, &mut [0.0; 3]);
        assert!((value + priors.left_out() + whole).abs() < 1e-12, "{value}");
    }
}
