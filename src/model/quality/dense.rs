//! Robust centre and spread from the densest part of a sample.

/// Centre and standard deviation of the bulk of a sample.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bulk {
    /// Middle of the shortest interval holding the asked share.
    pub(super) centre: f64,
    /// Standard deviation of a normal law of which that interval holds the asked share.
    pub(super) sd: f64,
}

/// Share of the sample used, with the half-width in standard deviations of the central interval of
/// a normal law that holds it.
#[derive(Debug, Clone, Copy)]
pub(super) enum Share {
    /// A quarter: 0.3186 sd (normal quantile of 0.625, NIST table of the normal law).
    Quarter,
    /// A half: 0.6745 sd (normal quantile of 0.75).
    Half,
}

impl Share {
    fn numbers(self) -> (usize, f64) {
        match self {
            Self::Quarter => (4, 0.318_639_36),
            Self::Half => (2, 0.674_489_75),
        }
    }
}

/// The bulk of `values`, which are sorted here. `None` for fewer than eight values.
pub(super) fn bulk(values: &mut [f64], share: Share) -> Option<Bulk> {
    if values.len() < 8 {
        return None;
    }
    let (parts, half_width_sd) = share.numbers();
    values.sort_by(f64::total_cmp);
    let hold = values.len().div_ceil(parts).max(2);
    values
        .windows(hold)
        .map(|window| (window[0], window[hold - 1]))
        .min_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0)))
        .map(|(low, high)| Bulk { centre: f64::midpoint(low, high), sd: (high - low) / (2.0 * half_width_sd) })
}

/// Median; the values are sorted here. `None` for none.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    (n > 0).then(|| f64::midpoint(values[(n - 1) / 2], values[n / 2]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bulk_ignores_two_thirds_of_scattered_faults() {
        let mut values: Vec<f64> = (0..30).map(|i| f64::from(i) * 0.01).collect();
        values.extend((0..60).map(|i| 3.0 + f64::from(i) * 0.3));
        let found = bulk(&mut values, Share::Quarter).expect("enough values");
        assert!((found.centre - 0.145).abs() < 0.05, "{found:?}");
        assert!(found.sd < 0.6, "{found:?}");
    }

    #[test]
    fn the_spread_of_normal_quantiles_is_one() {
        use statrs::distribution::{ContinuousCDF, Normal};
        let normal = Normal::standard();
        let mut values: Vec<f64> = (0..2000).map(|i| normal.inverse_cdf((f64::from(i) + 0.5) / 2000.0)).collect();
        for share in [Share::Quarter, Share::Half] {
            let found = bulk(&mut values, share).expect("enough values");
            assert!((found.sd - 1.0).abs() < 0.03 && found.centre.abs() < 0.2, "{share:?} {found:?}");
        }
    }

    #[test]
    fn medians() {
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&mut [4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&mut []), None);
    }
}
