//! The weather of the valley as one number a day.

use rand_distr::{Distribution, StandardNormal};

use super::{chance, days_in};

/// How much of yesterday's fast anomaly stays.
const FAST_MEMORY: f64 = 0.8;
/// Spread of the fast anomaly, degrees Celsius.
const FAST_SD_C: f64 = 2.6;
/// How much of yesterday's slow anomaly stays: a warm spell of a month and more.
const SLOW_MEMORY: f64 = 0.975;
/// Spread of the slow anomaly, degrees Celsius.
const SLOW_SD_C: f64 = 1.5;

/// The air's difference from the usual on every day of `season`, degrees Celsius: two independent
/// first-order autoregressive series, each started from its long-run spread.
pub(super) fn air_anomaly(seed: u64, season: i32) -> Vec<f64> {
    let mut rng = chance(seed, "weather", season);
    let mut draw = || -> f64 { StandardNormal.sample(&mut rng) };
    let (mut fast, mut slow) = (FAST_SD_C * draw(), SLOW_SD_C * draw());
    let (fast_kick, slow_kick) = (kick(FAST_MEMORY, FAST_SD_C), kick(SLOW_MEMORY, SLOW_SD_C));
    (0..days_in(season))
        .map(|_| {
            fast = FAST_MEMORY * fast + fast_kick * draw();
            slow = SLOW_MEMORY * slow + slow_kick * draw();
            fast + slow
        })
        .collect()
}

/// The daily kick that keeps a series with `memory` at the spread `sd`.
fn kick(memory: f64, sd: f64) -> f64 {
    sd * (1.0 - memory * memory).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_spread_and_memory_are_those_stated() {
        let series: Vec<Vec<f64>> = (1900..2100).map(|season| air_anomaly(3, season)).collect();
        let all: Vec<f64> = series.iter().flatten().copied().collect();
        let mean = all.iter().sum::<f64>() / all.len() as f64;
        let variance = all.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / all.len() as f64;
        let expected = FAST_SD_C * FAST_SD_C + SLOW_SD_C * SLOW_SD_C;
        assert!((variance - expected).abs() < 0.8, "{variance} against {expected}");
        let lagged = series.iter().flat_map(|s| s.windows(2)).map(|w| w[0] * w[1]).sum::<f64>() / all.len() as f64;
        let expected = FAST_MEMORY * FAST_SD_C.powi(2) + SLOW_MEMORY * SLOW_SD_C.powi(2);
        assert!((lagged - expected).abs() < 0.8, "{lagged} against {expected}");
    }
}
