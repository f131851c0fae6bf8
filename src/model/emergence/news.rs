//! What this season's records say that the fit has not seen: draws are weighed by their likelihood
//! (importance sampling) and drawn again in proportion (systematic resampling). When few draws carry
//! the weight, the fit itself has to be made anew.

use std::sync::Arc;

use rand::SeedableRng;
use rand_pcg::Pcg64;
use rayon::prelude::*;

use crate::domain::fit::ClockKind;
use crate::model::clock::Drivers;
use crate::model::posterior::Observation;

use super::draws::Target;
use super::fitted::FittedTaxon;
use super::hindcast::log_prob;

/// Proposals per draw wanted.
const PROPOSALS: usize = 4;

/// One record that the fit has not seen, or that it has seen and that is gone.
#[derive(Debug, Clone)]
pub struct News {
    /// Index of the site.
    pub site: usize,
    /// The record.
    pub observation: Observation,
    /// Water of this season at the site.
    pub drivers: Arc<Drivers>,
    /// True for one that the fit has seen and that no longer stands: its likelihood is taken out.
    pub gone: bool,
}

/// Draws chosen in the light of news.
#[derive(Debug, Clone)]
pub struct Chosen {
    /// Clock and seed of each draw.
    pub draws: Vec<(ClockKind, u64)>,
    /// Smallest share of proposals, over the clocks in use, that the weights amount to.
    pub effective: f64,
}

/// Chooses draws for `plan` among proposals; the seed of a proposal gives its draw again.
/// `target_of` says where a clock's draw of a site stands; the first target is that of the forecast.
#[must_use]
pub fn choose(
    fitted: &FittedTaxon,
    plan: &[ClockKind],
    news: &[News],
    seed: u64,
    target_of: &(dyn Fn(ClockKind, usize) -> Target + Sync),
    site: Option<usize>,
) -> Chosen {
    let mut sites: Vec<usize> = news.iter().map(|n| n.site).filter(|s| Some(*s) != site).collect();
    sites.sort_unstable();
    sites.dedup();
    let mut chosen = Chosen { draws: Vec::with_capacity(plan.len()), effective: 1.0 };
    for (clock, _) in ClockKind::WORDS {
        let wanted = plan.iter().filter(|c| **c == clock).count();
        let Some(member) = fitted.member(clock).filter(|_| wanted > 0) else { continue };
        let first = site.map_or_else(|| target_of(clock, usize::MAX), |s| target_of(clock, s));
        let targets: Vec<Target> = std::iter::once(first).chain(sites.iter().map(|s| target_of(clock, *s))).collect();
        let drawer = member.fit.drawer(&fitted.climate, &targets);
        let seeds: Vec<u64> = (0..(wanted * PROPOSALS) as u64)
            .map(|k| seed.wrapping_add(k).wrapping_add((clock.index() as u64) << 48))
            .collect();
        let logs: Vec<f64> = seeds
            .par_iter()
            .map(|&seed| {
                let mut rng = Pcg64::seed_from_u64(seed);
                let Some(drawn) = drawer.draw_together(&mut rng) else {
                    return f64::NEG_INFINITY;
                };
                news.iter()
                    .map(|n| {
                        let at = if Some(n.site) == site { 0 } else { 1 + sites.partition_point(|s| *s < n.site) };
                        let season = &drawn[at];
                        let sums = season.sums(&n.drivers, n.observation.to_day);
                        let log = n.observation.weight * log_prob(season, &sums, &n.observation);
                        if n.gone { -log } else { log }
                    })
                    .sum()
            })
            .collect();
        let highest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let weights: Vec<f64> =
            logs.iter().map(|l| (l - highest).exp()).map(|w| if w.is_finite() { w } else { 0.0 }).collect();
        let (sum, squares) = weights.iter().fold((0.0, 0.0), |(s, q), w| (s + w, q + w * w));
        if sum <= 0.0 {
            chosen.effective = 0.0;
            continue;
        }
        chosen.effective = chosen.effective.min(sum * sum / squares / seeds.len() as f64);
        chosen.draws.extend(resample(&weights, wanted).into_iter().map(|k| (clock, seeds[k])));
    }
    chosen
}

/// Systematic resampling: `n` indices in proportion to `weights`.
fn resample(weights: &[f64], n: usize) -> Vec<usize> {
    let step = weights.iter().sum::<f64>() / n as f64;
    let (mut sum, mut at) = (0.0, 0);
    (0..n)
        .map(|k| {
            let mark = (k as f64 + 0.5) * step;
            while at + 1 < weights.len() && sum + weights[at] < mark {
                sum += weights[at];
                at += 1;
            }
            at
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::resample;

    #[test]
    fn indices_come_in_proportion_to_weights() {
        let drawn = resample(&[0.0, 3.0, 0.0, 1.0], 8);
        assert_eq!(drawn, [1, 1, 1, 1, 1, 1, 3, 3]);
        assert_eq!(resample(&[1.0; 4], 4), [0, 1, 2, 3]);
    }
}
