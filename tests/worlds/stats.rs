//! Means over seeds.

/// A mean and its standard error.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Mean {
    pub(crate) mean: f64,
    pub(crate) se: f64,
}

impl Mean {
    /// Of at least one value; the standard error of one value is unknown.
    pub(crate) fn of(values: &[f64]) -> Self {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
        Self { mean, se: if values.len() > 1 { (variance / n).sqrt() } else { f64::NAN } }
    }

    /// Upper end of a one-sided 90 % interval, normal.
    pub(crate) fn upper90(self) -> f64 {
        self.mean + 1.2816 * self.se
    }
}

impl std::fmt::Display for Mean {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let digits = f.precision().unwrap_or(2);
        write!(f, "{:.digits$} ({:.digits$})", self.mean, self.se)
    }
}

#[test]
fn a_mean_and_its_error_are_as_by_hand() {
    let mean = Mean::of(&[1.0, 2.0, 3.0, 6.0]);
    // Variance 14/3, over 4 values.
    assert!((mean.mean - 3.0).abs() < 1e-12 && (mean.se - (14.0_f64 / 12.0).sqrt()).abs() < 1e-12);
    assert!((mean.upper90() - 4.3843).abs() < 1e-3, "{}", mean.upper90());
    assert_eq!(format!("{mean:.1}"), "3.0 (1.1)");
}
