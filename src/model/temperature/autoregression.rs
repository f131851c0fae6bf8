//! The autoregression of order one that anomalies follow.

/// Mean of an autoregression `k` of `span` days after a known value, given that and the next one.
pub(super) fn bridge_mean(phi: f64, k: f64, span: f64, before: Option<f64>, after: Option<f64>) -> f64 {
    match (before, after) {
        (None, None) => 0.0,
        (Some(x0), None) => phi.powf(k) * x0,
        (None, Some(x1)) => phi.powf(span - k) * x1,
        (Some(x0), Some(x1)) => {
            let (left, right) = (phi.powf(k), phi.powf(span - k));
            let both = 1.0 - (left * right).powi(2);
            (left * (1.0 - right * right) * x0 + right * (1.0 - left * left) * x1) / both
        }
    }
}

/// Its variance there, in units of the variance far from any known value.
pub(super) fn bridge_variance(phi: f64, k: f64, span: f64, before: bool, after: bool) -> f64 {
    let (left, right) = (phi.powf(2.0 * k), phi.powf(2.0 * (span - k)));
    let told = match (before, after) {
        (false, false) => 0.0,
        (true, false) => left,
        (false, true) => right,
        (true, true) => (left * (1.0 - right) + right * (1.0 - left)) / (1.0 - left * right),
    };
    (1.0 - told).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::{bridge_mean, bridge_variance};

    #[test]
    fn the_variance_between_two_days_is_least_beside_them() {
        let at = |k: f64| bridge_variance(0.8, k, 4.0, true, true);
        assert!(at(0.0).abs() < 1e-12 && at(4.0).abs() < 1e-12);
        // Half-way: 1 - 2 * 0.64^2 (1 - 0.64^2) / (1 - 0.64^4).
        let square = 0.64_f64.powi(2);
        assert!((at(2.0) - (1.0 - 2.0 * square / (1.0 + square))).abs() < 1e-12);
        assert!((bridge_variance(0.8, 3.0, f64::INFINITY, true, false) - (1.0 - 0.8_f64.powi(6))).abs() < 1e-12);
        assert_eq!(bridge_variance(0.8, 3.0, 9.0, false, false), 1.0);
    }

    #[test]
    fn the_mean_between_two_days_leans_to_the_nearer() {
        let at = |k: f64| bridge_mean(0.8, k, 4.0, Some(1.0), Some(-2.0));
        assert!((at(0.0) - 1.0).abs() < 1e-12 && (at(4.0) + 2.0).abs() < 1e-12);
        // Half-way both ends weigh 0.64 / (1 + 0.4096): the usual regression on two points.
        assert!((at(2.0) + 0.64 / 1.4096).abs() < 1e-12);
        assert_eq!(bridge_mean(0.8, 2.0, f64::INFINITY, Some(1.0), None), 0.8_f64.powf(2.0));
    }
}
