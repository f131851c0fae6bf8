//! The fit of one taxon and brood on one clock: many starts, effects' sds, curvature.

use crate::domain::fit::ClockKind;
use crate::model::clock::ClockRun;
use crate::model::laplace::{Laplace, approximate, mode_from};
use crate::model::optimise::Stop;
use crate::model::posterior::layout::{D50, DC, TB};
use crate::model::posterior::{Dataset, Layout, Objective, Outcome, Priors, Unit};

use super::effects::{EffectSds, InUse};
use super::mean::posterior_mean;
use super::prior::{LOGIT_90, TaxonPrior, log_slope_per_day, mean_positive_day, priors};

/// Days around the first guess of the median from which the search starts: the surface has false
/// modes, and its far field is flat.
const START_OFFSETS_DAYS: [f64; 5] = [0.0, -15.0, 15.0, -30.0, 30.0];
const SEARCH: Stop = Stop { max_evaluations: 150, gradient: 0.03 };
const FINISH: Stop = Stop { max_evaluations: 300, gradient: 1e-5 };
/// Logit share of a second part that starts with what one part leaves.
const LITTLE_LEFT: f64 = -1.5;
/// Most rounds of estimating the effects' sds, and the gain of a round (log) that ends it.
const EFFECT_ROUNDS: usize = 12;
const LITTLE_GAIN: f64 = 0.02;
/// Ends of the search that are as low as this above the lowest are weighed by their evidence.
const LOW: f64 = 40.0;
/// Ends closer than this, in value and in days, are one.
const SAME: f64 = 0.05;

/// A fitted clock: mean, mode and curvature of its posterior, and the effects' sds it was made with.
#[derive(Debug, Clone)]
pub struct FittedClock {
    /// The clock.
    pub clock: ClockKind,
    /// Whether the curve has a second part.
    pub two_parts: bool,
    /// Layout of the parameters.
    pub layout: Layout,
    /// Sds of the effects.
    pub effects: EffectSds,
    /// Priors used.
    pub priors: Priors,
    /// Mode and curvature.
    pub laplace: Laplace,
    /// Posterior mean of all parameters: what is told of them, and where draws have their middle.
    pub mean: Vec<f64>,
}

impl FittedClock {
    /// Log evidence by Laplace's method, with the priors whole, so that fits of different size can be compared.
    #[must_use]
    pub fn log_evidence(&self) -> f64 {
        self.laplace.log_evidence - self.priors.left_out()
    }
}

/// Fits `data` on `clock`; `None` where the clock cannot carry the data (it does not run at the
/// median day, or no start leads to a proper mode).
#[must_use]
pub fn fit_clock(clock: ClockKind, data: &Dataset, taxon: &TaxonPrior, two_parts: bool) -> Option<FittedClock> {
    fit_clock_from(clock, data, taxon, two_parts, None)
}

/// As [`fit_clock`], with the mode of a curve of one part as a further start: the second part then
/// only has to take what the first leaves.
#[must_use]
pub fn fit_clock_from(
    clock: ClockKind,
    data: &Dataset,
    taxon: &TaxonPrior,
    two_parts: bool,
    one_part: Option<&FittedClock>,
) -> Option<FittedClock> {
    let reference = ClockRun::new(clock, &data.climate, taxon.base_temp_c.0, 12.5, data.climate.len());
    let (day, _) = taxon.median_day_for(data);
    let slope = log_slope_per_day(&reference, day)?;
    let effects = EffectSds::start(slope);
    let prior = priors(clock, data, taxon, two_parts, &effects)?;
    let objective = Objective { clock, data, priors: &prior, two_parts };
    let guess = mean_positive_day(data).unwrap_or(day);
    // Orders and families hold late species that fly after the last visit; a species does not.
    let in_doubt = two_parts && taxon.species;
    let mut starts: Vec<Vec<f64>> =
        START_OFFSETS_DAYS.iter().map(|offset| starting_point(data, &prior, guess + offset)).collect();
    if let Some(one) = one_part {
        let layout = Layout::of(data);
        let mut start = one.laplace.mode.clone();
        for index in [layout.log_gap(), layout.log_sigma2()] {
            start[index] = prior.0[index].mean;
        }
        start[layout.logit_w()] = LITTLE_LEFT;
        starts.push(start);
    }
    let mut ends: Vec<(Vec<f64>, f64)> = Vec::new();
    for start in starts {
        let (theta, value) = mode_from(&objective, &start, SEARCH);
        let proper = value.is_finite() && (!in_doubt || second_part_is_seen(clock, data, &theta));
        let known = |end: &(Vec<f64>, f64)| (end.1 - value).abs() < SAME && (end.0[D50] - theta[D50]).abs() < SAME;
        if proper && !ends.iter().any(known) {
            ends.push((theta, value));
        }
    }
    let start = heaviest(&objective, ends)?;
    let fit = refine(clock, data, taxon, two_parts, effects, slope, &start, EFFECT_ROUNDS)?;
    (!in_doubt || second_part_is_seen(clock, data, &fit.laplace.mode)).then_some(fit)
}

/// The mode with the most posterior mass around it among `ends` of the search. The lowest may be a
/// pit: with an effect for every site-year a very narrow curve can be moved onto any record.
fn heaviest(objective: &Objective<'_>, ends: Vec<(Vec<f64>, f64)>) -> Option<Vec<f64>> {
    let lowest = ends.iter().map(|end| end.1).fold(f64::INFINITY, f64::min);
    let low: Vec<Vec<f64>> = ends.into_iter().filter(|end| end.1 < lowest + LOW).map(|end| end.0).collect();
    if low.len() < 2 {
        return low.into_iter().next();
    }
    let modes = low.iter().filter_map(|theta| approximate(objective, theta, FINISH).ok());
    modes.max_by(|a, b| a.log_evidence.total_cmp(&b.log_evidence)).map(|laplace| laplace.mode)
}

/// Whether somebody looked once the second part had begun (its 10 % point). A second part wholly
/// behind the last visit is a false mode: insects that nobody could have seen, a level in disguise.
fn second_part_is_seen(clock: ClockKind, data: &Dataset, theta: &[f64]) -> bool {
    let layout = Layout::of(data);
    let reference = ClockRun::new(clock, &data.climate, theta[TB], theta[DC], data.climate.len());
    let last = data.units.iter().map(Unit::last_day).max().unwrap_or(0).min(data.climate.len());
    let begins =
        reference.at(theta[D50]).c.ln() + theta[layout.log_gap()].exp() - LOGIT_90 * theta[layout.log_sigma2()].exp();
    begins <= reference.c[last].ln()
}

/// Fits `data`, a part of what `full` saw, starting from `full`'s mode.
///
/// Site-years are matched by site and year. The effects' sds are those of `full`. Estimating them anew for every part
/// takes the little that the year left out tells of them out of its scores (0.007 of a log score and 0.1 d of CRPS on
/// simulated clubs, cover unchanged), but chooses among clocks more at random (what is shipped lost 2 % of CRPS in one
/// world).
#[must_use]
pub fn refit(full: &FittedClock, full_data: &Dataset, data: &Dataset, taxon: &TaxonPrior) -> Option<FittedClock> {
    let reference = ClockRun::new(full.clock, &data.climate, taxon.base_temp_c.0, 12.5, data.climate.len());
    let slope = log_slope_per_day(&reference, taxon.median_day_for(data).0)?;
    let units: Vec<(usize, usize)> = full_data.units.iter().map(|u| (u.site, u.year)).collect();
    let start = carried_over(full, &units, data);
    refine(full.clock, data, taxon, full.two_parts, full.effects, slope, &start, 0)
}

/// Fits `data`, what `old` saw and a little more, starting from `old`'s mode; `years` says which of
/// `old`'s years each year of `data` was, and `units` lists the site-years that `old` saw.
#[must_use]
pub fn fit_on(
    old: &FittedClock,
    units: &[(usize, usize)],
    years: &[Option<usize>],
    data: &Dataset,
    taxon: &TaxonPrior,
) -> Option<FittedClock> {
    let reference = ClockRun::new(old.clock, &data.climate, taxon.base_temp_c.0, 12.5, data.climate.len());
    let slope = log_slope_per_day(&reference, taxon.median_day_for(data).0)?;
    let (from, to) = (old.layout, Layout::of(data));
    let mode = &old.laplace.mode;
    let mut start = vec![0.0; to.len()];
    start[..to.v(0)].copy_from_slice(&mode[..from.v(0)]);
    for (new, known) in years.iter().enumerate() {
        if let Some(known) = known {
            start[to.v(new)] = mode[from.v(*known)];
        }
    }
    start[to.a(0)..to.core_len()].copy_from_slice(&mode[from.a(0)..from.core_len()]);
    start[to.core_len()..to.shift(0)].copy_from_slice(&mode[from.core_len()..from.shift(0)]);
    for (index, unit) in data.units.iter().enumerate() {
        let known = years[unit.year].and_then(|year| units.iter().position(|u| *u == (unit.site, year)));
        if let Some(known) = known {
            copy_unit(mode, from, known, &mut start, to, index);
        }
    }
    refine(old.clock, data, taxon, old.two_parts, old.effects, slope, &start, 0)
}

/// The mode of `full`, which saw `units`, as a start for `data` of the same sites and years.
fn carried_over(full: &FittedClock, units: &[(usize, usize)], data: &Dataset) -> Vec<f64> {
    let (from, to) = (full.layout, Layout::of(data));
    let mut start = vec![0.0; to.len()];
    let shared = from.shift(0);
    start[..shared].copy_from_slice(&full.laplace.mode[..shared]);
    for (index, unit) in data.units.iter().enumerate() {
        if let Some(old) = units.iter().position(|u| *u == (unit.site, unit.year)) {
            copy_unit(&full.laplace.mode, from, old, &mut start, to, index);
        }
    }
    start
}

fn copy_unit(mode: &[f64], from: Layout, old: usize, start: &mut [f64], to: Layout, new: usize) {
    start[to.shift(new)] = mode[from.shift(old)];
    start[to.split(new)] = mode[from.split(old)];
    start[to.level(new)] = mode[from.level(old)];
}

#[expect(clippy::too_many_arguments, reason = "the state of one search, used by the entries above")]
fn refine(
    clock: ClockKind,
    data: &Dataset,
    taxon: &TaxonPrior,
    two_parts: bool,
    effects: EffectSds,
    slope: f64,
    theta: &[f64],
    rounds: usize,
) -> Option<FittedClock> {
    let layout = Layout::of(data);
    let fitted = |effects: EffectSds, start: &[f64]| -> Option<FittedClock> {
        let prior = priors(clock, data, taxon, two_parts, &effects)?;
        let mut theta = start.to_vec();
        for (value, p) in theta.iter_mut().zip(&prior.0) {
            if !p.free {
                *value = p.mean;
            }
        }
        let objective = Objective { clock, data, priors: &prior, two_parts };
        let laplace = approximate(&objective, &theta, FINISH).ok()?;
        let mean = laplace.mode.clone();
        Some(FittedClock { clock, two_parts, layout, effects, priors: prior, laplace, mean })
    };
    let mut best = fitted(effects, theta)?;
    let in_use = InUse::of(data, &best.laplace.free);
    let score = |fit: &FittedClock| fit.laplace.log_evidence + fit.effects.log_prior(slope, &in_use);
    for _ in 0..rounds {
        let objective = Objective { clock, data, priors: &best.priors, two_parts };
        let aim = best.effects.improved(&best.laplace, &objective, slope, &in_use);
        let trial = |part: f64, start: &FittedClock| {
            let fit = fitted(best.effects.towards(&aim, part, slope), &start.laplace.mode)?;
            Some((score(&fit), fit))
        };
        let before = score(&best);
        let Some((after, better)) = highest_along(&trial, &best, before) else { break };
        best = better;
        if after - before < LITTLE_GAIN {
            break;
        }
    }
    // The search compares modes; only where it ends is the mean worth its gradients.
    let objective = Objective { clock, data, priors: &best.priors, two_parts };
    best.mean = posterior_mean(&objective, &best.laplace);
    Some(best)
}

/// The best of `trial` on the way from `from`, in parts of a step; `None` where it does not rise above
/// `before`. Shorter until it rises, then longer while it rises: the ridge between kinds of effects that
/// explain the same records is long and nearly flat.
fn highest_along(
    trial: &impl Fn(f64, &FittedClock) -> Option<(f64, FittedClock)>,
    from: &FittedClock,
    before: f64,
) -> Option<(f64, FittedClock)> {
    let rises = |part: f64, start: &FittedClock, above: f64| trial(part, start).filter(|found| found.0 > above);
    let Some(mut found) = rises(1.0, from, before) else {
        return [0.5, 0.25].into_iter().find_map(|part| rises(part, from, before));
    };
    for part in [2.0, 4.0, 8.0] {
        let Some(further) = rises(part, &found.1, found.0) else { break };
        found = further;
    }
    Some(found)
}

fn starting_point(data: &Dataset, priors: &Priors, day: f64) -> Vec<f64> {
    let layout = Layout::of(data);
    let mut theta = priors.means();
    theta[D50] = day.clamp(15.0, data.climate.len().max(30) as f64 - 5.0);
    let (mut catch, mut effort) = (0.0, 0.0);
    for observation in data.units.iter().flat_map(|u| &u.observations) {
        if let Outcome::Count(count) = observation.outcome {
            catch += f64::from(count);
            effort += observation.log_effort.exp();
        }
    }
    if effort > 0.0 {
        let seasons = data.units.len().max(1) as f64;
        let visits = data.len().max(1) as f64 / seasons;
        theta[layout.alpha()] = ((catch + 0.5) / effort * visits).ln();
    }
    theta
}
