//! Development-rate curves: r(T) per day, development being complete when the sum of r reaches 1.
//!
//! The rate at a day's mean is not the mean of the day's rates: sum [`RateCurve::mean_over_sine_day`]
//! where the curve bends. Constants do not carry over between forms; at 5 C a power law and a
//! threshold model fitted to the same eggs can differ tenfold. Egg constants do not time emergence
//! unless the hatch of the eggs is what the clock starts from.

mod fit;

pub use fit::{PowerFit, RateFitError, fit_power_law};

/// Boltzmann constant in eV per kelvin, rounded as the manuals of thermal performance curves give it.
pub const BOLTZMANN_EV: f64 = 8.62e-5;
const ZERO_C_IN_KELVIN: f64 = 273.15;
/// Nodes of the quadrature over a sine day (Gauss-Chebyshev: exact for smooth curves).
const DAY_NODES: usize = 96;

/// A rate of development as a function of temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum RateCurve {
    /// r = max(0, (T - t0) / k). Classical; fails badly near its threshold.
    Linear {
        /// Threshold, degrees Celsius.
        t0_c: f64,
        /// Requirement, degree-days.
        k_degree_days: f64,
    },
    /// Y = a T^-b days, r = T^b / a, for T > 0 only; no threshold (Elliott; Humpesch; Brittain and
    /// Campbell).
    Power {
        /// Days at 1 C.
        a_days: f64,
        /// Exponent, positive.
        b: f64,
    },
    /// r = c T (T - t0) (tl - T)^(1/n) between t0 and tl, else 0 (Briere et al. 1999, Environmental
    /// Entomology 28:22-29). The first form has n = 2.
    Briere {
        /// Scale.
        c: f64,
        /// Lower threshold, degrees Celsius.
        t0_c: f64,
        /// Upper threshold, degrees Celsius.
        tl_c: f64,
        /// Inverse exponent; 2 in the first form.
        n: f64,
    },
    /// r = exp(rho T) - exp(rho tm - (tm - T) / delta) + lambda, floored at 0 (Lactin et al. 1995,
    /// Environmental Entomology 24:68-75).
    Lactin2 {
        /// Slope, per degree Celsius.
        rho: f64,
        /// Lethal maximum, degrees Celsius.
        tm_c: f64,
        /// Width of the fall, degrees Celsius.
        delta_c: f64,
        /// Offset that makes a lower threshold.
        lambda: f64,
    },
    /// r = r_ref exp(-E/k (1/K - 1/K_ref)) / (1 + exp(E_l/k (1/K - 1/K_l)) + exp(E_h/k (1/K_h - 1/K)))
    /// with K in kelvin and all three energies positive (Schoolfield et al. 1981, Journal of
    /// Theoretical Biology 88:719-731). Some manuals write the low term with the opposite sign and
    /// a negative energy; here the rate tends to 0 at both ends for positive energies.
    SharpeSchoolfield {
        /// Rate at the reference temperature without inactivation, per day.
        r_ref: f64,
        /// Activation energy, eV.
        e_ev: f64,
        /// Energy of the inactivation by cold, eV.
        e_low_ev: f64,
        /// Temperature at which cold halves the rate, degrees Celsius.
        t_low_c: f64,
        /// Energy of the inactivation by heat, eV.
        e_high_ev: f64,
        /// Temperature at which heat halves the rate, degrees Celsius.
        t_high_c: f64,
        /// Reference temperature, degrees Celsius.
        t_ref_c: f64,
    },
}

/// A rate and whether it lies outside the temperatures it was published for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateAt {
    /// Per day.
    pub per_day: f64,
    /// True when the temperature was clipped to the published range.
    pub extrapolated: bool,
}

impl RateCurve {
    /// The rate per day at `temp_c`; never negative.
    #[must_use]
    pub fn per_day(&self, temp_c: f64) -> f64 {
        match *self {
            Self::Linear { t0_c, k_degree_days } => ((temp_c - t0_c) / k_degree_days).max(0.0),
            Self::Power { a_days, b } => {
                if temp_c > 0.0 {
                    temp_c.powf(b) / a_days
                } else {
                    0.0
                }
            }
            Self::Briere { c, t0_c, tl_c, n } => {
                // Below 0 C the factor T would turn the product negative.
                if temp_c > t0_c.max(0.0) && temp_c < tl_c {
                    c * temp_c * (temp_c - t0_c) * (tl_c - temp_c).powf(n.recip())
                } else {
                    0.0
                }
            }
            Self::Lactin2 { rho, tm_c, delta_c, lambda } => {
                ((rho * temp_c).exp() - (rho * tm_c - (tm_c - temp_c) / delta_c).exp() + lambda).max(0.0)
            }
            Self::SharpeSchoolfield { r_ref, e_ev, e_low_ev, t_low_c, e_high_ev, t_high_c, t_ref_c } => {
                let inverse = |celsius: f64| (celsius + ZERO_C_IN_KELVIN).recip();
                let here = inverse(temp_c);
                let low = (e_low_ev / BOLTZMANN_EV * (here - inverse(t_low_c))).exp();
                let high = (e_high_ev / BOLTZMANN_EV * (inverse(t_high_c) - here)).exp();
                r_ref * (-e_ev / BOLTZMANN_EV * (here - inverse(t_ref_c))).exp() / (1.0 + low + high)
            }
        }
    }

    /// The rate at `temp_c` clipped to the range `low_c..=high_c` that its constants were published
    /// for. A power law has no threshold and would go on developing in the cold.
    #[must_use]
    pub fn within(&self, temp_c: f64, low_c: f64, high_c: f64) -> RateAt {
        let clipped = temp_c.max(low_c).min(high_c);
        RateAt { per_day: self.per_day(clipped), extrapolated: clipped != temp_c }
    }

    /// The mean of the rate over a day that runs as one sine from `tmin_c` to `tmax_c`.
    #[must_use]
    pub fn mean_over_sine_day(&self, tmin_c: f64, tmax_c: f64) -> f64 {
        let (mean, amplitude) = (f64::midpoint(tmin_c, tmax_c), 0.5 * (tmax_c - tmin_c));
        let sum: f64 = (0..DAY_NODES)
            .map(|k| mean + amplitude * (std::f64::consts::PI * (k as f64 + 0.5) / DAY_NODES as f64).cos())
            .map(|temp_c| self.per_day(temp_c))
            .sum();
        sum / DAY_NODES as f64
    }
}

/// Temperature of the fastest rate of a Briere curve with inverse exponent `n`, degrees Celsius.
#[must_use]
pub fn briere_optimum_c(t0_c: f64, tl_c: f64, n: f64) -> f64 {
    let root = 4.0 * n * n * tl_c * tl_c + (n + 1.0).powi(2) * t0_c * t0_c - 4.0 * n * n * t0_c * tl_c;
    (2.0 * n * tl_c + (n + 1.0) * t0_c + root.sqrt()) / (4.0 * n + 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sharpe_schoolfield_falls_at_both_ends() {
        let curve = RateCurve::SharpeSchoolfield {
            r_ref: 0.05,
            e_ev: 0.65,
            e_low_ev: 2.0,
            t_low_c: 4.0,
            e_high_ev: 3.5,
            t_high_c: 27.0,
            t_ref_c: 15.0,
        };
        let top = curve.per_day(24.0);
        assert!(curve.per_day(-30.0) < 1e-4 * top && curve.per_day(60.0) < 1e-3 * top);
    }

    #[test]
    fn the_optimum_is_where_the_curve_is_highest() {
        for n in [2.0, 3.0] {
            let curve = RateCurve::Briere { c: 6e-5, t0_c: 4.0, tl_c: 30.0, n };
            let best = briere_optimum_c(4.0, 30.0, n);
            let top = curve.per_day(best);
            assert!(top > curve.per_day(best - 0.01) && top > curve.per_day(best + 0.01));
        }
    }

    #[test]
    fn outside_its_range_a_curve_is_clipped_and_says_so() {
        let eggs = RateCurve::Power { a_days: 2217.0, b: 1.61 };
        let cold = eggs.within(5.0, 10.0, 25.0);
        assert!(cold.extrapolated && cold.per_day == eggs.per_day(10.0));
        assert!(!eggs.within(12.0, 10.0, 25.0).extrapolated);
        assert_eq!(eggs.per_day(0.0), 0.0);
        assert_eq!(eggs.per_day(-1.0), 0.0);
        assert_eq!(RateCurve::Briere { c: 1.0, t0_c: -5.0, tl_c: 30.0, n: 2.0 }.per_day(-2.0), 0.0);
    }
}
