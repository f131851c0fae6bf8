//! The posterior of a fitted clock with the sds of its effects unknown, and a sampler for it.
//!
//! `fit_clock` holds the effects' sds at estimates and describes the rest by mode and curvature. Here
//! nothing is held: log sds are parameters, with the half-normal priors of `EffectSds::scales` and the
//! Jacobian of the log, and effects are s z with z standard normal. The draws come from `nuts-rs`, the
//! no-U-turn sampler of the PyMC developers (Hoffman and Gelman 2014, J. Mach. Learn. Res.
//! 15:1593-1623), which shares no code with the fit but the density itself; that density and its
//! gradient are held against independent numbers by the golden test.

use std::collections::HashMap;

use nuts_rs::{Chain, CpuLogpFunc, CpuMath, CpuMathError, DiagNutsSettings, HasDims, LogpError, Settings};
use rand::SeedableRng;
use rand_pcg::Pcg64;
use rayon::prelude::*;
use subimago::model::clock::ClockRun;
use subimago::model::emergence::prior::{TaxonPrior, log_slope_per_day};
use subimago::model::emergence::{EffectSds, FittedClock};
use subimago::model::posterior::layout::{D50, H0, LOG_B, LOG_SIGMA, TB};
use subimago::model::posterior::{Dataset, Layout, Objective, Priors, Workspace};

use crate::chains::{effective, mean_and_sd, r_hat};

const CHAINS: u64 = 2;
/// Steps of tuning and draws kept, per chain.
pub(crate) const TUNING: usize = 400;
pub(crate) const DRAWS: usize = 1000;

/// Effects that share an sd.
struct Group {
    name: &'static str,
    indices: Vec<usize>,
    /// Sd that the fit estimated, and scale of its half-normal prior.
    fitted: f64,
    scale: f64,
}

/// The density. A position holds the other parameters in units of their posterior sd around the mode,
/// then every effect over its sd, then the logs of the sds over those fitted.
struct Hierarchy<'a> {
    fit: &'a FittedClock,
    data: &'a Dataset,
    priors: Priors,
    plain: Vec<usize>,
    sds: Vec<f64>,
    groups: &'a [Group],
    theta: Vec<f64>,
    gradient: Vec<f64>,
    work: Workspace,
}

#[derive(Debug, thiserror::Error)]
#[error("the density is zero here")]
struct Outside;

impl LogpError for Outside {
    fn is_recoverable(&self) -> bool {
        true
    }
}

impl<'a> Hierarchy<'a> {
    fn new(fit: &'a FittedClock, data: &'a Dataset, groups: &'a [Group]) -> Self {
        let effects: Vec<usize> = groups.iter().flat_map(|g| g.indices.iter().copied()).collect();
        Self {
            fit,
            data,
            priors: fit.priors.clone(),
            plain: fit.laplace.free.iter().copied().filter(|i| !effects.contains(i)).collect(),
            sds: fit.laplace.sds(),
            groups,
            theta: fit.laplace.mode.clone(),
            gradient: vec![0.0; fit.laplace.mode.len()],
            work: Workspace::default(),
        }
    }

    fn effects(&self) -> usize {
        self.groups.iter().map(|g| g.indices.len()).sum()
    }

    /// A position a little off the mode, where no slope is zero: the sampler refuses a flat start.
    fn near_the_mode(&self) -> Vec<f64> {
        let mut position = vec![0.0; self.plain.len()];
        for group in self.groups {
            position.extend(group.indices.iter().map(|&i| self.fit.laplace.mode[i] / group.fitted));
        }
        position.resize(self.dim(), 0.0);
        position.iter().enumerate().map(|(k, x)| x + 0.1 * (k as f64 + 1.0).sin()).collect()
    }

    /// All parameters at `position`, and the sds of the groups.
    fn expand(&mut self, position: &[f64]) -> Vec<f64> {
        for (&index, x) in self.plain.iter().zip(position) {
            self.theta[index] = self.fit.laplace.mode[index] + self.sds[index] * x;
        }
        let (mut at, logs) = (self.plain.len(), &position[self.plain.len() + self.effects()..]);
        let mut sds = Vec::new();
        for (group, log) in self.groups.iter().zip(logs) {
            let sd = group.fitted * log.exp();
            for &index in &group.indices {
                self.theta[index] = sd * position[at];
                self.priors.0[index].sd = sd;
                at += 1;
            }
            sds.push(sd);
        }
        sds
    }
}

impl HasDims for Hierarchy<'_> {
    fn dim_sizes(&self) -> HashMap<String, u64> {
        HashMap::from([("unconstrained_parameter".to_owned(), self.dim() as u64)])
    }
}

impl CpuLogpFunc for Hierarchy<'_> {
    type LogpError = Outside;
    type FlowParameters = ();
    type ExpandedVector = Vec<f64>;

    fn dim(&self) -> usize {
        self.plain.len() + self.effects() + self.groups.len()
    }

    fn logp(&mut self, position: &[f64], slope: &mut [f64]) -> Result<f64, Outside> {
        let sds = self.expand(position);
        let objective =
            Objective { clock: self.fit.clock, data: self.data, priors: &self.priors, two_parts: self.fit.two_parts };
        let value = objective.value_and_gradient(&self.theta, &mut self.gradient, &mut self.work);
        if !value.is_finite() {
            return Err(Outside);
        }
        for (row, &index) in self.plain.iter().enumerate() {
            slope[row] = -self.gradient[index] * self.sds[index];
        }
        // The value holds z^2/2 + ln s for every effect; in z the ln s is not part of the density.
        let mut log_density = -value;
        let mut at = self.plain.len();
        for (k, (group, sd)) in self.groups.iter().zip(sds).enumerate() {
            let (n, ratio) = (group.indices.len() as f64, sd / group.scale);
            log_density += n * sd.ln() - 0.5 * ratio * ratio + sd.ln();
            let mut along = 1.0 - ratio * ratio;
            for &index in &group.indices {
                let (g, z) = (self.gradient[index], position[at]);
                slope[at] = -g * sd;
                along += z * z - g * self.theta[index];
                at += 1;
            }
            let last = slope.len() - self.groups.len() + k;
            slope[last] = along;
        }
        Ok(log_density)
    }

    fn expand_vector<R: rand::Rng + ?Sized>(&mut self, _: &mut R, position: &[f64]) -> Result<Vec<f64>, CpuMathError> {
        Ok(position.to_vec())
    }
}

/// The fit and the sampler on one parameter. Sds of effects are compared on the log scale, where the
/// fit has an estimate without an sd of its own.
#[derive(Debug, Clone)]
pub(crate) struct Compared {
    pub(crate) name: &'static str,
    /// Whether the records say nothing of it: its posterior is its prior.
    pub(crate) prior_only: bool,
    /// Of the fit: mean and sd; the sd is 0 for the sd of effects (the estimate) and for a parameter that is held.
    pub(crate) fit: (f64, f64),
    /// Of the fit, where the density is highest.
    pub(crate) mode: f64,
    /// Of the sampler: mean and sd.
    pub(crate) sampled: (f64, f64),
    /// Sd over the chains' halves against that within them; near 1 when they agree.
    pub(crate) r_hat: f64,
    /// Draws that are worth as much as independent ones.
    pub(crate) effective: f64,
}

impl Compared {
    pub(crate) fn held(&self) -> bool {
        self.sampled.1 == 0.0
    }

    /// How far the fit's mean lies from the sampler's, in the sampler's sds.
    pub(crate) fn mean_off(&self) -> f64 {
        (self.fit.0 - self.sampled.0) / self.sampled.1
    }

    /// As [`Self::mean_off`], of the fit's mode.
    pub(crate) fn mode_off(&self) -> f64 {
        (self.mode - self.sampled.0) / self.sampled.1
    }

    /// The fit's sd over the sampler's.
    pub(crate) fn width(&self) -> f64 {
        self.fit.1 / self.sampled.1
    }
}

/// What is sampled.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Sds {
    /// Effects' sds with the rest: the whole posterior.
    Sampled,
    /// The rest alone, under the sds of the fit: tells the error of mode and curvature from that of
    /// holding the sds.
    Held,
}

/// Samples the posterior from the mode of `fit` and sets both beside each other: Tb, d50, log sigma,
/// log b and h0, then the logs of the effects' sds.
pub(crate) fn compare(fit: &FittedClock, data: &Dataset, taxon: &TaxonPrior, sds: Sds, seed: u64) -> Vec<Compared> {
    let groups = if sds == Sds::Held { Vec::new() } else { groups(fit, data, taxon) };
    println!("sds of effects {sds:?}");
    let chains: Vec<Vec<Vec<f64>>> = (0..CHAINS)
        .into_par_iter()
        .map(|chain| {
            let mut density = Hierarchy::new(fit, data, &groups);
            let start = density.near_the_mode();
            check_gradient(&mut density, &start);
            let plain = density.plain.clone();
            let settings = DiagNutsSettings { num_tune: TUNING as u64, maxdepth: 8, ..Default::default() };
            let mut rng = Pcg64::seed_from_u64(seed + chain);
            let mut sampler = settings.new_chain(chain, CpuMath::new(density), &mut rng).unwrap();
            sampler.set_position(&start).unwrap();
            let (mut rows, mut gradients, mut divergent) = (Vec::new(), 0, 0);
            for draw in 0..TUNING + DRAWS {
                let (position, progress) = sampler.draw().unwrap();
                gradients += progress.num_gradients;
                if draw >= TUNING {
                    divergent += usize::from(progress.diverging);
                    rows.push(reported(fit, &groups, &plain, &position));
                }
            }
            println!("chain {chain}: {} parameters, {gradients} gradients, {divergent} divergences", start.len());
            assert!(divergent * 50 < DRAWS, "{divergent} divergences in {DRAWS} draws");
            rows
        })
        .collect();
    let unseen = unseen(fit, data);
    check_means(fit, data);
    let widths = fit.laplace.sds();
    let main = MAIN.iter().map(|&(name, i)| (name, (fit.mean[i], widths[i]), fit.laplace.mode[i]));
    let effects = groups.iter().map(|g| (g.name, (g.fitted.ln(), 0.0), g.fitted.ln()));
    main.chain(effects)
        .enumerate()
        .map(|(k, (name, fit, mode))| {
            let columns: Vec<Vec<f64>> = chains.iter().map(|rows| rows.iter().map(|row| row[k]).collect()).collect();
            let (mean, sd) = mean_and_sd(&columns.concat());
            let compared = Compared {
                name,
                prior_only: unseen.contains(&name),
                fit,
                mode,
                sampled: (mean, sd),
                r_hat: r_hat(&columns),
                effective: effective(&columns),
            };
            println!("{compared}");
            compared
        })
        .collect()
}

/// Parameters of which the likelihood has no slope a little off the mode.
fn unseen(fit: &FittedClock, data: &Dataset) -> Vec<&'static str> {
    let mut theta = fit.laplace.mode.clone();
    let widths = fit.laplace.sds();
    theta.iter_mut().zip(&widths).for_each(|(x, sd)| *x += 0.1 * sd);
    let mut gradient = vec![0.0; theta.len()];
    let objective = Objective { clock: fit.clock, data, priors: &fit.priors, two_parts: fit.two_parts };
    objective.value_and_gradient(&theta, &mut gradient, &mut Workspace::default());
    let by_prior = |i: usize| (theta[i] - fit.priors.0[i].mean) / fit.priors.0[i].sd.powi(2);
    let alone = |&&(_, i): &&(&str, usize)| widths[i] > 0.0 && (gradient[i] - by_prior(i)).abs() < 1e-12;
    MAIN.iter().filter(alone).map(|(name, _)| *name).collect()
}

/// How far the posterior means lie from the mode by the third derivatives of the density, along every column of the
/// covariance's root at once: twice as many gradients as parameters, where the fit moves all site-years together.
fn shift_along_every_direction(fit: &FittedClock, data: &Dataset) -> Vec<f64> {
    let objective = Objective { clock: fit.clock, data, priors: &fit.priors, two_parts: fit.two_parts };
    let (free, mode) = (&fit.laplace.free, &fit.laplace.mode);
    let (n, mut work) = (free.len(), Workspace::default());
    let mut gradient = vec![0.0; mode.len()];
    let step = 0.7;
    let mut at_mode = vec![0.0; mode.len()];
    objective.value_and_gradient(mode, &mut at_mode, &mut work);
    let mut slope = vec![0.0; n];
    for k in 0..n {
        let mut z = vec![0.0; n];
        for sign in [step, -step] {
            z[k] = sign;
            objective.value_and_gradient(&fit.laplace.draw(&z), &mut gradient, &mut work);
            slope.iter_mut().zip(free).for_each(|(w, &i)| *w += (gradient[i] - at_mode[i]) / (step * step));
        }
    }
    let covariance = fit.laplace.precision.inverse();
    let mut shift = vec![0.0; mode.len()];
    for (row, &index) in free.iter().enumerate() {
        shift[index] = -0.5 * (0..n).map(|k| covariance[(row, k)] * slope[k]).sum::<f64>();
    }
    shift
}

/// The fit's means of what is told against those by every direction; the roots differ, and with them what lies
/// beyond the third derivatives.
fn check_means(fit: &FittedClock, data: &Dataset) {
    let sds = fit.laplace.sds();
    let other = shift_along_every_direction(fit, data);
    for (name, index) in MAIN.into_iter().filter(|(_, index)| fit.laplace.free.contains(index)) {
        let shift = fit.mean[index] - fit.laplace.mode[index];
        let apart = (shift - other[index]) / sds[index];
        assert!(apart.abs() < 0.2, "{name}: the mean lies {shift} from the mode, by every direction {}", other[index]);
    }
}

const MAIN: [(&str, usize); 5] = [("Tb", TB), ("d50", D50), ("log sigma", LOG_SIGMA), ("log b", LOG_B), ("h0", H0)];

fn reported(fit: &FittedClock, groups: &[Group], plain: &[usize], position: &[f64]) -> Vec<f64> {
    let sds = fit.laplace.sds();
    let mut row: Vec<f64> = MAIN
        .iter()
        .map(|&(_, index)| {
            let moved = plain.iter().position(|&i| i == index).map_or(0.0, |at| position[at] * sds[index]);
            fit.laplace.mode[index] + moved
        })
        .collect();
    let logs = &position[position.len() - groups.len()..];
    row.extend(groups.iter().zip(logs).map(|(g, log)| g.fitted.ln() + log));
    row
}

/// The groups of effects that are free in `fit`, with the scales of their priors.
fn groups(fit: &FittedClock, data: &Dataset, taxon: &TaxonPrior) -> Vec<Group> {
    let layout = Layout::of(data);
    let reference = ClockRun::new(fit.clock, &data.climate, taxon.base_temp_c.0, 12.5, data.climate.len());
    let scales = EffectSds::scales(log_slope_per_day(&reference, taxon.median_day_for(data).0).unwrap());
    let (e, s) = (&fit.effects, &scales);
    let over = |n: usize, at: &dyn Fn(usize) -> usize| -> Vec<usize> { (0..n).map(at).collect() };
    let (sites, years, units) = (layout.sites, layout.years, layout.units);
    [
        ("site shift", e.site_shift, s.site_shift, over(sites, &|i| layout.u(i))),
        ("year shift", e.year_shift, s.year_shift, over(years, &|i| layout.v(i))),
        ("site-year shift", e.unit_shift, s.unit_shift, over(units, &|i| layout.shift(i))),
        ("site-year split", e.unit_split, s.unit_split, over(units, &|i| layout.split(i))),
        ("site level", e.site_level, s.site_level, over(sites, &|i| layout.a(i))),
        ("site-year level", e.unit_level, s.unit_level, over(units, &|i| layout.level(i))),
    ]
    .into_iter()
    .filter(|(.., indices)| fit.priors.0[indices[0]].free)
    .map(|(name, fitted, scale, indices)| Group { name, indices, fitted, scale })
    .collect()
}

/// The slope of the density against central differences.
fn check_gradient(density: &mut Hierarchy<'_>, position: &[f64]) {
    let mut position = position.to_vec();
    let n = position.len();
    let (mut slope, mut unused) = (vec![0.0; n], vec![0.0; n]);
    density.logp(&position, &mut slope).unwrap();
    let size = slope.iter().fold(1.0_f64, |m, g| m.max(g.abs()));
    for k in 0..n {
        let here = position[k];
        let mut at = |x: f64| {
            position[k] = x;
            density.logp(&position, &mut unused).unwrap()
        };
        let central = (at(here + 1e-5) - at(here - 1e-5)) / 2e-5;
        position[k] = here;
        assert!((central - slope[k]).abs() < 1e-5 * size, "slope {k}: {} against {central}", slope[k]);
    }
}

impl std::fmt::Display for Compared {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.held() {
            return write!(f, "{:<16} held at {:.3}", self.name, self.fit.0);
        }
        if self.prior_only {
            write!(f, "(no record tells of it) ")?;
        }
        write!(
            f,
            "{:<16} fit {:8.3} ({:.3}) sampled {:8.3} ({:.3}) mode off {:5.2} sd, mean {:5.2} sd, width {:.2}, R-hat {:.3}, {:.0} effective",
            self.name,
            self.fit.0,
            self.fit.1,
            self.sampled.0,
            self.sampled.1,
            self.mode_off(),
            self.mean_off(),
            self.width(),
            self.r_hat,
            self.effective
        )
    }
}
