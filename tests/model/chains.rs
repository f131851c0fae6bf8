//! What chains of draws say: mean and sd, whether they agree, how many draws they are worth; and the
//! bounds that a fit is held to beside them.

use crate::hierarchy::Compared;

/// Holds the comparison to its bounds. Of parameters: means within half an sd of the sampler's (modes lie up to
/// 0.8 sd off, for the density leans), sds within a quarter. Of the effects' sds, on the log scale: the
/// estimate within one sd of the sampler's mean. The chains must agree.
pub(crate) fn hold(rows: &[Compared]) {
    for row in rows.iter().filter(|row| !row.held()) {
        assert!(row.r_hat < 1.1 && row.effective > 40.0, "the chains have not met: {row}");
        let of_effects = row.fit.1 == 0.0;
        assert!(row.mean_off().abs() < if of_effects { 1.0 } else { 0.5 }, "{row}");
        if !of_effects {
            assert!((0.75..=1.25).contains(&row.width()), "{row}");
        }
    }
}

/// Mean and standard deviation.
pub(crate) fn mean_and_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let sum: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    // A parameter that is held repeats one value; what rounding leaves is no spread.
    let sd = (sum / (n - 1.0)).sqrt();
    (mean, if sd < 1e-9 { 0.0 } else { sd })
}

/// Gelman and others, Bayesian Data Analysis, 3rd ed., section 11.4: chains cut in half (from memory).
pub(crate) fn r_hat(chains: &[Vec<f64>]) -> f64 {
    let halves: Vec<&[f64]> = chains.iter().flat_map(|c| c.chunks_exact(c.len() / 2)).collect();
    let n = halves[0].len() as f64;
    let parts: Vec<(f64, f64)> = halves.iter().map(|h| mean_and_sd(h)).collect();
    let within = parts.iter().map(|p| p.1.powi(2)).sum::<f64>() / parts.len() as f64;
    let between = mean_and_sd(&parts.iter().map(|p| p.0).collect::<Vec<_>>()).1.powi(2);
    if within > 0.0 { ((n - 1.0) / n + between / within).sqrt() } else { 1.0 }
}

/// Draws over the sum of autocorrelations, cut at the first pair that is not positive (Geyer 1992,
/// Statistical Science 7:473-483; from memory).
pub(crate) fn effective(chains: &[Vec<f64>]) -> f64 {
    let of_chain = |values: &Vec<f64>| {
        let (mean, sd) = mean_and_sd(values);
        let n = values.len();
        let correlation = |lag: usize| -> f64 {
            let sum: f64 = (lag..n).map(|t| (values[t] - mean) * (values[t - lag] - mean)).sum();
            sum / (n as f64 * sd * sd)
        };
        let mut sum = -1.0;
        for pair in 0..n / 2 {
            let both = correlation(2 * pair) + correlation(2 * pair + 1);
            if both <= 0.0 {
                break;
            }
            sum += 2.0 * both;
        }
        n as f64 / sum.max(0.1)
    };
    chains.iter().map(of_chain).sum()
}
