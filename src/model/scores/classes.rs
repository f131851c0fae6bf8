//! Scores of class and yes-or-no forecasts. Classes are numbered from 0.

/// Ranked probability score of class probabilities `p` when `class` happened: the sum over classes
/// of the squared difference of cumulative probabilities, not divided by their number less one.
#[must_use]
pub fn rps(p: &[f64], class: usize) -> f64 {
    let mut cumulative = 0.0;
    p.iter()
        .enumerate()
        .map(|(k, probability)| {
            cumulative += probability;
            let happened = if class <= k { 1.0 } else { 0.0 };
            (cumulative - happened).powi(2)
        })
        .sum()
}

/// -log p(class), natural log; infinite where nothing was given to what happened.
#[must_use]
pub fn log_score(p: &[f64], class: usize) -> f64 {
    -p[class].ln()
}

/// Brier score of probability `forecast` for an event that did or did not happen.
#[must_use]
pub fn brier(forecast: f64, happened: bool) -> f64 {
    (forecast - f64::from(u8::from(happened))).powi(2)
}

/// Murphy's parts of a mean Brier score: reliability - resolution + uncertainty.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BrierParts {
    /// Mean squared difference between stated and observed frequency; 0 is best.
    pub reliability: f64,
    /// Mean squared difference between observed frequency by statement and overall; large is best.
    pub resolution: f64,
    /// Variance of the event itself.
    pub uncertainty: f64,
}

/// Murphy's parts, forecasts gathered into `bins` equal bins of probability, each standing for the
/// mean of its forecasts; exact when each bin holds one value. `None` without forecasts.
#[must_use]
pub fn brier_parts(forecasts: &[(f64, bool)], bins: usize) -> Option<BrierParts> {
    if forecasts.is_empty() || bins == 0 {
        return None;
    }
    let mut gathered = vec![(0.0, 0.0, 0.0); bins];
    for &(f, happened) in forecasts {
        let bin = &mut gathered[((f * bins as f64) as usize).min(bins - 1)];
        bin.0 += 1.0;
        bin.1 += f;
        bin.2 += f64::from(u8::from(happened));
    }
    let n = forecasts.len() as f64;
    let rate = gathered.iter().map(|b| b.2).sum::<f64>() / n;
    let over_bins = |value: &dyn Fn(f64, f64) -> f64| {
        gathered.iter().filter(|b| b.0 > 0.0).map(|b| b.0 * value(b.1 / b.0, b.2 / b.0)).sum::<f64>() / n
    };
    Some(BrierParts {
        reliability: over_bins(&|stated, observed| (stated - observed).powi(2)),
        resolution: over_bins(&|_, observed| (observed - rate).powi(2)),
        uncertainty: rate * (1.0 - rate),
    })
}

/// Probability integral transform of a class, spread over its step by `u` in 0..1.
#[must_use]
pub fn pit_randomised(p: &[f64], class: usize, u: f64) -> f64 {
    let below: f64 = p[..class].iter().sum();
    below + u * p[class]
}

/// Share of the class's step that lies below `q`: summed over cases, the cdf behind a histogram that
/// needs no random numbers.
#[must_use]
pub fn pit_cdf(p: &[f64], class: usize, q: f64) -> f64 {
    let below: f64 = p[..class].iter().sum();
    if p[class] > 0.0 { ((q - below) / p[class]).clamp(0.0, 1.0) } else { f64::from(u8::from(q >= below)) }
}
